"""Runs under the Python that LibreOffice's `uno` belongs to: load a workbook, let its cells ask, print all of them.

    python3 recalculate.py PORT FILE

Loading with full update and asking for the links is what lets cells reach the network without a person's click; the
file's folder must be trusted in the profile.
"""

import contextlib
import json
import sys
import time

import uno
from com.sun.star.beans import PropertyValue


def main(port, path):
    context = uno.getComponentContext()
    resolver = context.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", context)
    until = time.monotonic() + 60
    while True:
        try:
            remote = resolver.resolve(f"uno:socket,host=127.0.0.1,port={port};urp;StarOffice.ComponentContext")
            break
        except Exception:
            if time.monotonic() > until:
                raise
            time.sleep(0.2)
    manager = remote.ServiceManager
    desktop = manager.createInstanceWithContext("com.sun.star.frame.Desktop", remote)
    options = (PropertyValue("Hidden", 0, True, 0), PropertyValue("UpdateDocMode", 0, 3, 0))
    document = desktop.loadComponentFromURL(uno.systemPathToFileUrl(path), "_blank", 0, options)
    dispatcher = manager.createInstanceWithContext("com.sun.star.frame.DispatchHelper", remote)
    dispatcher.executeDispatch(document.CurrentController.Frame, ".uno:UpdateTableLinks", "", 0, ())
    document.calculateAll()
    sheet = document.Sheets.getByIndex(0)
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    last = cursor.RangeAddress
    print(json.dumps([
        [told(sheet.getCellByPosition(column, row)) for column in range(last.EndColumn + 1)]
        for row in range(last.EndRow + 1)
    ]))  # fmt: skip
    document.close(True)
    with contextlib.suppress(Exception):  # the office is gone before it answers
        desktop.terminate()


def told(cell):
    return {"text": cell.String, "value": cell.Value, "formula": cell.Formula, "error": cell.Error}


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2])
