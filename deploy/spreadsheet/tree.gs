/**
 * A whole duct tree from a sheet: =AIRBOUGH_TREE(A1:L20, "runs") posts the range and spills a row for each run.
 *
 * The range holds the settings and then the rows of runs. The script runs on its maker's machines, not on yours: the
 * address must be one that they can reach, so never a loopback one.
 *
 * @param {Array<Array<string|number|boolean>>} range Settings and rows.
 * @param {string} of Which list of the answer: runs, hoods, findings or system.
 * @return {Array<Array<string|number>>} Headings and rows.
 * @customfunction
 */
function AIRBOUGH_TREE(range, of) {
  const address = 'https://airbough.example/v1/trees/operating-point?of=' + encodeURIComponent(of || 'runs');
  const answer = UrlFetchApp.fetch(address, {
    method: 'post',
    contentType: 'text/csv; charset=utf-8',
    payload: airboughTable(range),
    muteHttpExceptions: true,
  });
  if (answer.getResponseCode() !== 200) {
    const problem = JSON.parse(answer.getContentText());
    const first = (problem.errors || [])[0];
    throw new Error(first ? first.path + ': ' + first.detail : problem.detail);
  }
  return Utilities.parseCsv(answer.getContentText()).map((row) => row.map(airboughCell));
}

/** Returns a range as the text of a table, with decimal points. */
function airboughTable(range) {
  const cell = (value) => {
    if (typeof value === 'number') {
      return String(Number(value.toPrecision(15)));
    }
    const text = String(value);
    return /[",\r\n]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
  };
  return range.map((row) => row.map(cell).join(',')).join('\n');
}

/** Returns a cell of the answer as a number where it is one. */
function airboughCell(text) {
  return text !== '' && !Number.isNaN(Number(text)) ? Number(text) : text;
}

if (typeof module !== 'undefined') {
  module.exports = { AIRBOUGH_TREE, airboughTable, airboughCell };
}
