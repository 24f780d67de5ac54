// What the page says, by language; what the service tells comes as codes and is put into words here where there are some.
export const TEXTS = {
  en: {
    invented: "an invented seller of ducts; nothing here is for sale", language: "Language", units: "Units",
    title: "Pipes for your dust collector", lead: "Write down one main line and your machines. The price follows as you type.",
    trunk: "Main line and collector", trunk_length: "Length of the main line", dust: "Dust", greatest_flow: "Collector: greatest flow",
    greatest_suction: "Greatest suction", machines: "Machines", add: "Add a machine", remove: "Remove", name: "Name", machine: "Machine",
    at: "Along the line", off: "Beside it", drop: "Height down", port: "Port", hose: "Hose", quote: "Your quote", air: "Air: needs against gets",
    air_hint: "The black line is what the machine needs, the bar is what it gets when it runs alone.", not_holding: "What does not hold",
    plan: "Plan", tree: "Scheme with sizes, all gates open", parts: "Parts", csv: "Save parts (CSV)", print: "Print", order: "Order at this price",
    asking: "Working out …", ready: "Quote updated.", away: "The quoting service cannot be reached. What you typed is kept; the quote below is the last one.",
    all_holds: "Every check holds in the states that were looked at.", needs: "needs", gets: "gets", short: "too little", row: "Machine",
    item: "Item", what: "What", quantity: "Quantity", price: "Price", incomplete: "some parts have no price", until: "holds until",
    refused: "Something typed cannot be read; see the marked places.", taken: "Thank you. This invented order was checked and taken at",
    altered: "This quote was changed after it was made, or prices are new. It was not ordered; a new quote is being made.",
    expired: "The prices have expired.", as_well: "open as well", running: "With this machine running", no_tree: "No sizes in stock fit all of this.",
    fallback: "The order was not taken.",
  },
  de: {
    invented: "ein erfundener Rohrhändler; hier wird nichts verkauft", language: "Sprache", units: "Einheiten",
    title: "Rohre für Ihre Absaugung", lead: "Schreiben Sie eine Hauptleitung und Ihre Maschinen auf. Der Preis folgt beim Tippen.",
    trunk: "Hauptleitung und Absauggerät", trunk_length: "Länge der Hauptleitung", dust: "Staub", greatest_flow: "Gerät: größter Volumenstrom",
    greatest_suction: "Größter Unterdruck", machines: "Maschinen", add: "Maschine hinzufügen", remove: "Entfernen", name: "Name", machine: "Maschine",
    at: "Entlang der Leitung", off: "Daneben", drop: "Höhe hinab", port: "Stutzen", hose: "Schlauch", quote: "Ihr Angebot", air: "Luft: Bedarf und Ist",
    air_hint: "Der schwarze Strich ist der Bedarf, der Balken, was die Maschine bekommt, wenn sie allein läuft.", not_holding: "Was nicht eingehalten ist",
    plan: "Grundriss", tree: "Schema mit Nennweiten, alle Schieber offen", parts: "Teile", csv: "Teile sichern (CSV)", print: "Drucken", order: "Zu diesem Preis bestellen",
    asking: "Wird berechnet …", ready: "Angebot erneuert.", away: "Der Angebotsdienst ist nicht erreichbar. Ihre Eingaben bleiben; unten steht das letzte Angebot.",
    all_holds: "In den betrachteten Zuständen ist jede Prüfung eingehalten.", needs: "braucht", gets: "bekommt", short: "zu wenig", row: "Maschine",
    item: "Artikel", what: "Was", quantity: "Menge", price: "Preis", incomplete: "einige Teile sind ohne Preis", until: "gilt bis",
    refused: "Eine Eingabe ist nicht lesbar; siehe die markierten Stellen.", taken: "Danke. Diese erfundene Bestellung wurde geprüft und angenommen zu",
    altered: "Dieses Angebot wurde nachträglich verändert, oder die Preise sind neu. Nichts wurde bestellt; ein neues Angebot entsteht.",
    expired: "Die Preise sind abgelaufen.", as_well: "dazu öffnen", running: "Läuft diese Maschine", no_tree: "Kein Durchmesser im Lager passt zu allem.",
    fallback: "Die Bestellung wurde nicht angenommen.",
  },
};

export const WORDS = {
  en: { "table-saw": "Table saw", "band-saw": "Band saw", "miter-saw": "Miter saw", jointer: "Jointer", planer: "Thickness planer", shaper: "Shaper",
    "router-table": "Router table", lathe: "Lathe", "drum-sander": "Drum sander", "belt-sander": "Belt sander", sawdust: "Sawdust", shavings: "Shavings",
    "fine-sanding-dust": "Fine sanding dust", "mixed-wood": "Mixed wood" },
  de: { "table-saw": "Tischkreissäge", "band-saw": "Bandsäge", "miter-saw": "Kappsäge", jointer: "Abrichte", planer: "Dickenhobel", shaper: "Tischfräse",
    "router-table": "Oberfräsentisch", lathe: "Drechselbank", "drum-sander": "Zylinderschleifer", "belt-sander": "Bandschleifer", sawdust: "Sägespäne",
    shavings: "Hobelspäne", "fine-sanding-dust": "Feiner Schleifstaub", "mixed-wood": "Gemischt" },
};
export const MACHINES = Object.keys(WORDS.en).slice(0, 10);
export const DUSTS = Object.keys(WORDS.en).slice(10);

// Codes of findings; one without words here is told in the service's own English.
export const CODES = {
  en: {},
  de: {
    "hood-starved": "Eine Maschine bekommt zu wenig Luft.", "below-transport-velocity": "In einem Rohr ist die Luft so langsam, dass sich Staub absetzt; ein engeres Rohr oder eine weitere offene Maschine hilft.",
    "no-gates-fix": "Keine weitere offene Maschine allein behebt dies; Nennweite oder Gerät ändern.", "open-further-gates": "Eine weitere Maschine offen zu lassen behebt dies.",
    "nonconductive-duct": "Der Schlauch leitet Aufladung nicht ab; den Draht an beiden Enden erden.", "price-missing": "Einige Teile sind ohne Preis.",
    "out-of-stock": "Von einem Teil ist nicht genug da.", "stock-expired": "Die Preise sind abgelaufen.", "not-stocked": "Ein Teil ist nicht im Lager.",
    "preferred-rule-broken": "Nicht jede Regel der Auslegung ließ sich einhalten.", "fan-guessed": "Die Kennlinie des Geräts ist geschätzt; fragen Sie den Verkäufer danach.",
    "no-size-fits": "Kein Durchmesser im Lager passt zu allem.",
  },
};

export const PARTS = {
  en: {},
  de: { pipe: "Rohr", hose: "Schlauch", elbow: "Bogen", taper: "Reduzierung", "port-adapter": "Stutzenübergang", wye: "Abzweig", tee: "T-Stück", gate: "Schieber",
    screw: "Schrauben", hanger: "Aufhängung", sealant: "Dichtmasse", "bonding-wire": "Erdungsdraht", clamp: "Schellen", cap: "Deckel" },
};
