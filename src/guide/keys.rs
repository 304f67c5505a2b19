//! What the keys of front matter take: one table, from which the reader checks, the JSON Schema is
//! made and the documents are written.

use super::{
    AlternatorControl, BodyMaterial, BoxKind, ChargerKind, Chemistry, Covering, Drive, HoldDownKind, Holds, Insulation,
    LoadNature, LugFixing, Metal, PartKind, Side, VehicleKind, VentKind,
};
use crate::quantity::{
    Area, CableSize, Charge, ColdCranking, CrankingScale, Current, Duration, Length, Mass, Power, Ratio, ReadError,
    Readable, Resistance, Show, Temperature, Thread, Voltage,
};

/// A mapping: which keys it has.
#[derive(Debug)]
pub struct Table {
    /// What it describes, for messages: "a run".
    pub what: &'static str,
    /// Its keys, in the order in which they are offered and documented.
    pub keys: &'static [Key],
    /// Further keys that depend on the word under one key.
    pub cases: Option<Cases>,
    /// Keys that are not words of ours: names that the author chose, zones, percentages.
    pub others: Option<Others>,
}

/// Further keys that depend on the word under one key.
#[derive(Debug)]
pub struct Cases {
    /// The key whose word decides.
    pub by: &'static str,
    /// The words, each with the keys that it brings.
    pub of: &'static [(&'static str, &'static [Key])],
}

/// Keys that are not words of ours.
#[derive(Debug)]
pub struct Others {
    /// What such a key is.
    pub key: KeyShape,
    /// What it takes.
    pub takes: &'static Takes,
    /// Whether there must be at least one.
    pub some: bool,
}

/// What a key that is not a word of ours looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeyShape {
    /// A name that the author gives to a new thing.
    New(Named),
    /// A name of a thing that the guide has.
    Known(Named),
    /// `load to bay`
    ZonePair,
    /// `135 %`
    Percentage,
    /// Any name; what reads it knows which.
    Free,
}

/// Things that the author names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    /// A zone.
    Zone,
    /// A part.
    Part,
    /// A run.
    Run,
    /// A state.
    State,
    /// A variant.
    Variant,
}

impl Named {
    /// Its noun.
    pub const fn noun(self) -> &'static str {
        match self {
            Named::Zone => "zone",
            Named::Part => "part",
            Named::Run => "run",
            Named::State => "state",
            Named::Variant => "variant",
        }
    }

    /// The top-level key that names them.
    pub const fn key(self) -> &'static str {
        match self {
            Named::Zone => "zones",
            Named::Part => "parts",
            Named::Run => "runs",
            Named::State => "states",
            Named::Variant => "variants",
        }
    }
}

/// One key.
#[derive(Debug)]
pub struct Key {
    /// As written.
    pub name: &'static str,
    /// Whether it must be there.
    pub needed: bool,
    /// What it takes.
    pub takes: &'static Takes,
    /// What it means, in one or two sentences.
    pub doc: &'static str,
}

/// What a key takes.
#[derive(Debug)]
pub enum Takes {
    /// Words for people.
    Text,
    /// A date, as 2026-10-03.
    Date,
    /// `true` or `false`.
    Flag,
    /// A whole number.
    Count,
    /// A number without a unit.
    Number,
    /// A number with a unit.
    Quantity(Quantity),
    /// A shortest and a longest time.
    TimeRange,
    /// One of our words.
    Word(&'static [&'static str]),
    /// A part, run, zone or state of the guide.
    Name(Named),
    /// `outside`, or a zone.
    OutsideOrZone,
    /// A terminal: a part's name with what says which terminal.
    Terminal,
    /// What a part does in a state.
    Activity,
    /// A web address.
    Address,
    /// A language, as `en` or `pt-BR`.
    Language,
    /// A mapping.
    Map(&'static Table),
    /// A list.
    List(&'static Takes),
    /// One, or a list of them.
    OneOrMore(&'static Takes),
    /// One of our words, or a mapping.
    WordOrMap(&'static [&'static str], &'static Table),
    /// Front matter that is laid over the rest.
    Change,
    /// A number, a text or a quantity; what reads it knows which.
    Free,
}

/// A kind of quantity.
#[derive(Clone, Copy, Debug)]
pub struct Quantity {
    /// "length"
    pub noun: &'static str,
    /// "4.9 m"
    pub example: &'static str,
    /// Reads a text; gives whether it is nothing (zero).
    pub read: fn(&str) -> Result<bool, ReadError>,
    /// Shows a text in both unit systems.
    pub show: fn(&str) -> Option<String>,
}

/// A quantity, or a choice from a series, that front matter may hold.
pub trait Written: Readable {
    /// Whether it is zero.
    fn is_nothing(&self) -> bool;
    /// In both unit systems.
    fn shown(self) -> String;
}

macro_rules! written {
    ($($name:ident),*) => { $(
        impl Written for $name {
            fn is_nothing(&self) -> bool { self.si() == 0.0 }
            fn shown(self) -> String { self.show_both() }
        }
    )* };
}
written!(Area, Charge, Current, Duration, Length, Mass, Power, Ratio, Resistance, Voltage);

impl Written for Temperature {
    fn is_nothing(&self) -> bool {
        false
    }
    fn shown(self) -> String {
        self.show_both()
    }
}

impl Written for CableSize {
    fn is_nothing(&self) -> bool {
        self.section().si() == 0.0
    }
    fn shown(self) -> String {
        self.show_both()
    }
}

impl Written for ColdCranking {
    fn is_nothing(&self) -> bool {
        self.current.si() == 0.0
    }
    fn shown(self) -> String {
        let scale = match self.scale {
            CrankingScale::Sae => "SAE",
            CrankingScale::En => "EN",
            CrankingScale::Din => "DIN",
        };
        format!("{} {scale}", self.current.show())
    }
}

impl Written for Thread {
    fn is_nothing(&self) -> bool {
        self.0 == 0.0
    }
    fn shown(self) -> String {
        self.to_string()
    }
}

fn check<T: Written>(text: &str) -> Result<bool, ReadError> {
    T::read(text).map(|value| value.is_nothing())
}

fn show<T: Written>(text: &str) -> Option<String> {
    T::read(text).ok().map(T::shown)
}

const fn quantity<T: Written>() -> Takes {
    like::<T>(T::EXAMPLE)
}

/// A quantity with an example that fits its key.
const fn like<T: Written>(example: &'static str) -> Takes {
    Takes::Quantity(Quantity { noun: T::NOUN, example, read: check::<T>, show: show::<T> })
}

const TEXT: &Takes = &Takes::Text;
const DATE: &Takes = &Takes::Date;
const FLAG: &Takes = &Takes::Flag;
const CURRENT: &Takes = &quantity::<Current>();
const VOLTAGE: &Takes = &quantity::<Voltage>();
const RESISTANCE: &Takes = &quantity::<Resistance>();
const POWER: &Takes = &quantity::<Power>();
const CAPACITY: &Takes = &quantity::<Charge>();
const LENGTH: &Takes = &quantity::<Length>();
const AREA: &Takes = &quantity::<Area>();
const TIME: &Takes = &quantity::<Duration>();
const MASS: &Takes = &quantity::<Mass>();
const TEMPERATURE: &Takes = &quantity::<Temperature>();
const SIZE: &Takes = &quantity::<CableSize>();
const CRANKING: &Takes = &quantity::<ColdCranking>();
const THREAD: &Takes = &quantity::<Thread>();

/// A needed key.
pub(super) const fn must(name: &'static str, takes: &'static Takes, doc: &'static str) -> Key {
    Key { name, needed: true, takes, doc }
}

/// A key that may be left out.
pub(super) const fn may(name: &'static str, takes: &'static Takes, doc: &'static str) -> Key {
    Key { name, needed: false, takes, doc }
}

/// A mapping with our keys only.
pub(super) const fn table(what: &'static str, keys: &'static [Key]) -> Table {
    Table { what, keys, cases: None, others: None }
}

/// A mapping from names, with at least one.
const fn names(what: &'static str, named: Named, takes: &'static Takes) -> Table {
    Table { what, keys: &[], cases: None, others: Some(Others { key: KeyShape::New(named), takes, some: true }) }
}

/// The front matter of a guide.
pub const GUIDE: Table = table(
    "the front matter",
    &[
        must("title", TEXT, "What the guide is called."),
        must("summary", TEXT, "What is done, in one or two sentences."),
        must("written", DATE, "When this revision was written."),
        may("by", TEXT, "Who wrote it."),
        may(
            "standing",
            &Takes::WordOrMap(&["published", "working"], &STANDING),
            "`published` (when left out): on the site. `working`: left out of the site. `{withdrawn: {…}}`: the guide's page is a notice.",
        ),
        must("vehicle", &Takes::Map(&VEHICLE), "What it is fitted to."),
        must("system", &like::<Voltage>("12 V"), "`12 V` or `24 V`."),
        may("coldest", &like::<Temperature>("-10 °C"), "The coldest start that the guide is for."),
        may("time-needed", TEXT, "How long the work takes, in your own words."),
        may("tools", &Takes::OneOrMore(TEXT), "What tools the work needs."),
        may("skill", TEXT, "What the reader must be able to do."),
        may("subjects", &Takes::OneOrMore(TEXT), "Words under which the guide is to be found."),
        must(
            "zones",
            &Takes::Map(&names("the zones", Named::Zone, &Takes::Map(&ZONE))),
            "Places in the vehicle, by name, from front to rear.",
        ),
        must(
            "parts",
            &Takes::Map(&names("the parts", Named::Part, &Takes::Map(&PART))),
            "Everything with terminals, by name.",
        ),
        may("every-run", &Takes::Map(&EVERY_RUN), "What holds of every run that does not say otherwise."),
        must(
            "runs",
            &Takes::Map(&names("the runs", Named::Run, &Takes::Map(&RUN))),
            "Every cable or strap between two terminals, by name.",
        ),
        must(
            "states",
            &Takes::Map(&names("the states", Named::State, &Takes::Map(&STATE))),
            "What is on at once, by name. The name carries no meaning.",
        ),
        may(
            "endurance",
            &Takes::Map(&Table {
                what: "`endurance`",
                keys: &[],
                cases: None,
                others: Some(Others {
                    key: KeyShape::Known(Named::State),
                    takes: &like::<Duration>("5 h"),
                    some: true,
                }),
            }),
            "For a state, how long the guide claims that the battery lasts to half charge.",
        ),
        may(
            "variants",
            &Takes::Map(&names("the variants", Named::Variant, &Takes::Map(&VARIANT))),
            "The same circuit, changed, to show beside the guide what the change does.",
        ),
        may("answers", &Takes::List(&Takes::Map(&ANSWER)), "A reviewer's answers to queries."),
        may("record", &Takes::Map(&RECORD), "The reviewer's sign-off."),
        may("changes", &Takes::List(&Takes::Map(&CHANGE)), "Earlier revisions, newest first."),
    ],
);

const STANDING: Table =
    table("`standing`", &[must("withdrawn", &Takes::Map(&WITHDRAWN), "The guide is withdrawn: its page is a notice.")]);

const WITHDRAWN: Table = table(
    "`withdrawn`",
    &[
        must("dated", DATE, "Since when."),
        must("reason", TEXT, "What was wrong."),
        must("remedy", TEXT, "What a reader who followed the guide should do."),
    ],
);

const VEHICLE: Table = table(
    "`vehicle`",
    &[
        must("kind", &Takes::Word(VehicleKind::WORDS), "What it is."),
        must("body", &Takes::Word(BodyMaterial::WORDS), "What its body or hull is made of."),
        must("drive", &Takes::Word(Drive::WORDS), "What drives it. `electric` includes hybrids; `none` is a trailer."),
    ],
);

const ZONE: Table = table(
    "a zone",
    &[
        must("label", TEXT, "Its name for people."),
        may("ambient", TEMPERATURE, "How hot the air gets there. Left out: 30 °C, 50 °C in an engine space."),
        may("engine-space", FLAG, "Whether it is an engine or machinery space."),
        may("occupied", FLAG, "Whether people are in it."),
        may("holds", &Takes::OneOrMore(&Takes::Word(Holds::WORDS)), "A fuel tank or line, or a gas bottle."),
    ],
);

const SURGE: Table =
    table("a current for a time", &[must("current", CURRENT, "How much."), must("for", TIME, "For how long.")]);

/// One part.
pub const PART: Table = Table {
    what: "a part",
    keys: &[
        must("is", &Takes::Word(PartKind::WORDS), "What kind of part it is."),
        may("in", &Takes::Name(Named::Zone), "The zone where it is. Every part but the body needs it."),
        may("label", TEXT, "Its name for people, when its key will not do."),
        may(
            "bolted-to",
            &Takes::Terminal,
            "What its case is bolted to, and so returns through: a part's name, or `body@ZONE`.",
        ),
        may("bolt-resistance", RESISTANCE, "The measured resistance of that bolted joint."),
        may("covers", FLAG, "Whether its live terminals are covered."),
        may("stud", THREAD, "Its terminal stud's thread."),
        may("mass", MASS, "How heavy it is."),
        may("from-vent", &like::<Length>("0.8 m"), "Its straight-line distance from the nearest battery's gas outlet."),
        may("side", &Takes::Word(Side::WORDS), "On which side it is, seen from the driver's seat, for the plan."),
        may("height", TEXT, "How high it sits, in your own words, for the plan."),
        EXISTING,
    ],
    cases: Some(Cases {
        by: "is",
        of: &[
            ("battery", BATTERY),
            ("breaker", BREAKER),
            ("fuse", PROTECTOR),
            ("isolator", SWITCH),
            ("relay", SWITCH),
            ("post", &[]),
            ("busbar", BUSBAR),
            ("connector", SWITCH),
            ("panel", LOAD),
            ("load", LOAD),
            ("winch", LOAD),
            ("inverter", LOAD),
            ("charger", CHARGER),
            ("starter", STARTER),
            ("alternator", ALTERNATOR),
            ("engine", &[]),
            ("body", BODY),
        ],
    }),
    others: None,
};

const BATTERY: &[Key] = &[
    must("chemistry", &Takes::Word(Chemistry::WORDS), "What it works by."),
    must("capacity", CAPACITY, "Its capacity. A series pair is one part; its figures are those of one 12 V unit."),
    may("cold-cranking", CRANKING, "Its cold-cranking current with the scale: EN, DIN or SAE (unmarked)."),
    may("internal-resistance", RESISTANCE, "Its measured resistance while it cranks, warm."),
    may("short-circuit-resistance", RESISTANCE, "Its measured resistance in the first moment, warm."),
    may(
        "discharge",
        &Takes::Map(&table(
            "`discharge`",
            &[must("continuous", CURRENT, "For good."), may("peak", &Takes::Map(&SURGE), "For a while.")],
        )),
        "What its protection board lets out.",
    ),
    may(
        "charge",
        &Takes::Map(&table("`charge`", &[must("max", &like::<Current>("50 A"), "The most.")])),
        "What may be charged into it.",
    ),
    may("cold-charge-cutoff", &like::<Temperature>("0 °C"), "Under which temperature its board refuses to be charged."),
    may("housing", &Takes::Map(&HOUSING), "What it stands in."),
    may("hold-down", &Takes::Map(&HOLD_DOWN), "What holds it."),
];

const HOUSING: Table = table(
    "`housing`",
    &[
        must(
            "box",
            &Takes::Word(BoxKind::WORDS),
            "`sealed` but for its vent, `vented` by openings, or `open`: no box.",
        ),
        may("vent", &Takes::Map(&VENT), "Where its gas goes."),
        may("covers", FLAG, "Whether its live terminals are covered."),
        may("tray", FLAG, "Whether it stands in an acid-proof tray."),
    ],
);

const VENT: Table = table(
    "`vent`",
    &[
        must(
            "kind",
            &Takes::Word(VentKind::WORDS),
            "`port-tube`: a tube from its own vent port. `open-air`: it stands in the open. `box-openings`: openings in its box.",
        ),
        must("to", &Takes::OutsideOrZone, "`outside`, or the zone into which the gas goes."),
        may("inlet", AREA, "Free area of the lower opening."),
        may("outlet", AREA, "Free area of the upper opening."),
    ],
);

const HOLD_DOWN: Table = table(
    "`hold-down`",
    &[
        must("kind", &Takes::Word(HoldDownKind::WORDS), "What holds the battery."),
        may("bolts", &Takes::Count, "How many bolts."),
        may("thread", THREAD, "Their thread."),
        may("grade", &Takes::Number, "Their property class, as 8.8."),
        may(
            "plate",
            &Takes::Map(&table(
                "`plate`",
                &[must("area", AREA, "Of each plate."), must("thickness", &like::<Length>("3 mm"), "Of each plate.")],
            )),
            "The counter-plate under each bolt.",
        ),
        may("into", TEXT, "What the bolts pass through, as `chassis` or `panel`."),
    ],
);

const OPENS: Table = Table {
    what: "`opens`",
    keys: &[],
    cases: None,
    others: Some(Others { key: KeyShape::Percentage, takes: &Takes::TimeRange, some: true }),
};

const OPENS_DOC: &str = "Its maker's opening times: the current as a percentage of the rating, then the shortest and the longest time. Leave out a point for which the maker gives only one of the two.";

const FORM_DOC: &str = "A published class of device whose opening times it keeps.";

const PROTECTOR: &[Key] = &[
    must("rating", CURRENT, "Its rated current."),
    may("volts", &like::<Voltage>("32 V"), "The most voltage that it may break."),
    may("breaks", &like::<Current>("5 kA"), "The most current that it can break."),
    may("opens", &Takes::Map(&OPENS), OPENS_DOC),
    may("form", TEXT, FORM_DOC),
    may("resistance", RESISTANCE, "Its measured resistance."),
    may("reachable", FLAG, "Whether it can be worked from where people are."),
];

const BREAKER: &[Key] = &[
    must("rating", CURRENT, "Its rated current."),
    may("volts", &like::<Voltage>("32 V"), "The most voltage that it may break."),
    may("breaks", &like::<Current>("5 kA"), "The most current that it can break."),
    may("opens", &Takes::Map(&OPENS), OPENS_DOC),
    may("form", TEXT, FORM_DOC),
    may("resets", &Takes::Word(&["manual", "automatic"]), "Whether it closes again by itself."),
    may("resistance", RESISTANCE, "Its measured resistance."),
    may("reachable", FLAG, "Whether it can be worked from where people are."),
];

const SWITCH: &[Key] = &[
    may("rating", CURRENT, "Its continuous rating."),
    may("volts", &like::<Voltage>("32 V"), "The most voltage that it may break."),
    may("resistance", RESISTANCE, "Its measured resistance."),
    may("reachable", FLAG, "Whether it can be worked from where people are."),
];

const BUSBAR: &[Key] =
    &[may("rating", CURRENT, "Its continuous rating."), may("section", &like::<Area>("60 mm²"), "The bar's section.")];

const LOAD: &[Key] = &[
    may(
        "takes",
        &Takes::Word(LoadNature::WORDS),
        "How it takes its current: the same at any voltage, as a resistance, or so that its power stays the same.",
    ),
    may("rating", CURRENT, "Its current, where no state says more."),
    may("power", POWER, "Its power, where no state says more."),
    may("inrush", &Takes::Map(&SURGE), "What it takes in the moment when it is switched on."),
    may("needs", &Takes::Word(&["steady"]), "`steady`: lights for the road, navigation, electronics."),
    may("can-overload", FLAG, "Whether it can take more than its rating for long: panels, sockets and inverters can."),
    may("intermittent", FLAG, "Whether it works by duty, like a winch."),
    may("mains", FLAG, "Whether it makes mains voltage."),
];

const CHARGER: &[Key] = &[
    must("kind", &Takes::Word(ChargerKind::WORDS), "What it charges from."),
    must("output", CURRENT, "Its output limit."),
    may("set-point", VOLTAGE, "Its output voltage."),
    may("efficiency", &like::<Ratio>("90 %"), "Output power as a percentage of input power."),
];

const STARTER: &[Key] = &[
    must("cranking", &Takes::Map(&SURGE), "Its steady cranking current, and for how long."),
    may("inrush", &Takes::Map(&SURGE), "What it takes in the first moment."),
];

const ALTERNATOR: &[Key] = &[
    must("output", CURRENT, "Its rated output."),
    may("set-point", VOLTAGE, "Its regulated voltage."),
    may(
        "control",
        &Takes::Word(AlternatorControl::WORDS),
        "What decides its voltage: its own regulator, or the engine's computer.",
    ),
    may("self-limiting", FLAG, "Whether its own windings limit its output. Left out: yes."),
];

const BODY: &[Key] = &[may(
    "between",
    &Takes::Map(&Table {
        what: "`between`",
        keys: &[],
        cases: None,
        others: Some(Others { key: KeyShape::ZonePair, takes: RESISTANCE, some: true }),
    }),
    "Measured resistances of the body from one zone to another: `load to bay: 5.5 mΩ`.",
)];

const METAL: Key = may("metal", &Takes::Word(Metal::WORDS), "What it is made of. Left out: copper.");
const INSULATION: Key = may("insulation", &Takes::Word(Insulation::WORDS), "Its insulation.");
const RATED: Key = may("rated", &like::<Temperature>("105 °C"), "Its insulation's temperature rating.");
const COVERING: Key = may("covering", &Takes::Word(Covering::WORDS), "What covers it along its whole length.");
const JOINTS: Key = may("joints", &like::<Resistance>("0.1 mΩ"), "The measured resistance of each of its two joints.");
const EDGE_GUARDS: Key = may("edge-guards", FLAG, "Whether a grommet or guard sits wherever it passes an edge.");
const SUPPORTS: Key = may("supports", &like::<Length>("0.3 m"), "The longest distance between two supports.");
const LUGS: Key = may("lugs", &Takes::Map(&LUG), "How its ends are made.");

const EXISTING: Key = may(
    "existing",
    FLAG,
    "Whether it is on the vehicle already and stays as it is: not bought, not cut, not labelled. It is checked all the same.",
);

const EVERY_RUN: Table =
    table("`every-run`", &[METAL, INSULATION, RATED, COVERING, JOINTS, EDGE_GUARDS, SUPPORTS, LUGS]);

const RUN: Table = table(
    "a run",
    &[
        must("from", &Takes::Terminal, "The terminal where it starts."),
        must("to", &Takes::Terminal, "The terminal where it ends."),
        must("size", SIZE, "Its size as sold: `50 mm²`, `1/0 AWG`."),
        may("section", &like::<Area>("48 mm²"), "The true section of metal, where it is not what the size says."),
        may("length", &like::<Length>("0.3 m"), "How long it is. May be left out when `laid` says it."),
        may("laid", &Takes::Map(&LAID), "How much of it lies in which zone, in order from `from` to `to`."),
        METAL,
        INSULATION,
        RATED,
        COVERING,
        may("strap", FLAG, "Whether it is a bare or braided strap."),
        may("resistance", RESISTANCE, "Measured end to end, with its joints."),
        JOINTS,
        may("colour", TEXT, "Its colour."),
        may("bundled-with", &Takes::OneOrMore(&Takes::Name(Named::Run)), "Runs that lie in one bundle with it."),
        EDGE_GUARDS,
        SUPPORTS,
        may("bend", &like::<Length>("80 mm"), "The radius of its tightest bend."),
        may("outside-diameter", &like::<Length>("14 mm"), "Over the insulation."),
        LUGS,
        may("side", &Takes::Word(Side::WORDS), "On which side it is laid, seen from the driver's seat, for the plan."),
        may("height", TEXT, "How high it is laid, in your own words, for the plan."),
        EXISTING,
    ],
);

const LAID: Table = Table {
    what: "`laid`",
    keys: &[],
    cases: None,
    others: Some(Others { key: KeyShape::Known(Named::Zone), takes: LENGTH, some: true }),
};

const LUG: Table = table(
    "`lugs`",
    &[
        may("fixing", &Takes::Word(LugFixing::WORDS), "How a lug is fixed to the conductor."),
        may("size", SIZE, "The conductor that the lugs are made for."),
        may("from-hole", THREAD, "The hole of the lug where the run starts."),
        may("to-hole", THREAD, "The hole of the lug where the run ends."),
    ],
);

const STATE: Table = Table {
    what: "a state",
    keys: &[
        may("label", TEXT, "Its name for people."),
        may("for", &like::<Duration>("2 h"), "How long it lasts. Left out: for good."),
        may("every", &like::<Duration>("24 h"), "The whole cycle, on and off, where it is repeated."),
    ],
    cases: None,
    others: Some(Others { key: KeyShape::Known(Named::Part), takes: &Takes::Activity, some: false }),
};

const VARIANT: Table = table(
    "a variant",
    &[
        must("title", TEXT, "What is different."),
        must("change", &Takes::Change, "What is laid over the front matter; `none` takes away."),
        may(
            "claim",
            &Takes::Map(&table(
                "`claim`",
                &[must("trips", &Takes::OneOrMore(TEXT), "Ids of rules that the variant must trip, at least.")],
            )),
            "What the numbers must bear out.",
        ),
        may("why", TEXT, "What the reader should learn from it."),
    ],
);

const ANSWER: Table = table(
    "an answer",
    &[
        must("rule", TEXT, "The id of the rule that asked."),
        may("about", TEXT, "The part, run or state that it asked about. Left out: the whole guide."),
        must("reason", TEXT, "Why it is right here."),
        must("by", TEXT, "Who says so."),
        must("until", DATE, "The last day on which the answer holds."),
    ],
);

const RECORD: Table = table(
    "`record`",
    &[
        must("by", TEXT, "Who checked the guide's numbers."),
        must("dated", DATE, "When."),
        must("digest", TEXT, "The digest of the inputs that were checked, as `review` prints it."),
    ],
);

const CHANGE: Table = table("a change", &[must("dated", DATE, "When."), must("what", TEXT, "What was changed.")]);
