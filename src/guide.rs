//! A guide as its author wrote it: front matter, text and steps, each value with its place.
//!
//! Knows no electricity: it does not know what a volt drop is, which terminals a part has, or
//! whether a run can carry its current. It hands on a [`Guide`] and the findings of reading it.

use indexmap::IndexMap;

use crate::quantity::{
    Area, CableSize, Charge, ColdCranking, Current, Duration, Length, Mass, Power, Ratio, Resistance, Temperature,
    Thread, Voltage,
};
use crate::source::{Placed, SourceFile, Span};

/// One guide, read.
#[derive(Clone, Debug)]
pub struct Guide {
    /// The Markdown file.
    pub file: SourceFile,
    /// The guide's folder below the content folder: its address on the site.
    pub slug: String,
    /// Title.
    pub title: Placed<String>,
    /// One or two sentences.
    pub summary: Placed<String>,
    /// When this revision was written.
    pub written: Placed<jiff::civil::Date>,
    /// Who wrote it.
    pub by: Option<Placed<String>>,
    /// Published, working or withdrawn.
    pub standing: Standing,
    /// What it is fitted to.
    pub vehicle: Vehicle,
    /// 12 V or 24 V.
    pub system: Placed<Voltage>,
    /// The author's coldest start.
    pub coldest: Option<Placed<Temperature>>,
    /// How long it takes, in the author's words.
    pub time_needed: Option<Placed<String>>,
    /// Tools, in the author's words.
    pub tools: Vec<Placed<String>>,
    /// What the reader must be able to do, in the author's words.
    pub skill: Option<Placed<String>>,
    /// Words under which the guide is found.
    pub subjects: Vec<Placed<String>>,
    /// Zones, front to rear.
    pub zones: IndexMap<String, Zone>,
    /// Parts, in the author's order.
    pub parts: IndexMap<String, Part>,
    /// Runs, in the author's order, with `every-run:` already filled in.
    pub runs: IndexMap<String, Run>,
    /// States, in the author's order.
    pub states: IndexMap<String, State>,
    /// What the author claims of endurance, to be held against the numbers.
    pub claims: Vec<EnduranceClaim>,
    /// Trials shown beside the guide. Their circuits are read by [`Guide::variant`].
    pub variants: IndexMap<String, Variant>,
    /// Reviewers' written answers to queries.
    pub answers: Vec<Answer>,
    /// Who checked the guide's numbers, and when.
    pub record: Option<Record>,
    /// Earlier revisions, newest first.
    pub changes: Vec<Change>,
    /// What stands below the front matter.
    pub text: Text,
    /// The front matter as a tree, for trials that change it and read it again.
    pub front_matter: tree::Node,
}

/// Whether and how a guide is published.
#[derive(Clone, Debug, PartialEq)]
pub enum Standing {
    /// On the site.
    Published,
    /// Left out of the site.
    Working,
    /// A notice stands at its address.
    Withdrawn {
        /// Since when.
        on: Placed<jiff::civil::Date>,
        /// What was wrong.
        reason: Placed<String>,
        /// What a reader who followed it should do.
        remedy: Placed<String>,
    },
}

/// `vehicle:`
#[derive(Clone, Debug)]
pub struct Vehicle {
    /// Where the mapping stands.
    pub at: Span,
    /// Car, van, boat …
    pub kind: Placed<VehicleKind>,
    /// What the body or hull is made of.
    pub body: Placed<BodyMaterial>,
    /// What drives it.
    pub drive: Placed<Drive>,
}

/// A choice from a short list of words.
pub trait Choice: Sized {
    /// The choice that a word names.
    fn from_word(word: &str) -> Option<Self>;
}

/// A choice from a short list of words, as written in front matter.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum $name { $($(#[$vdoc])* $variant),* }
        impl $name {
            /// Every choice, in the order in which they are offered.
            pub const ALL: &'static [$name] = &[$($name::$variant),*];
            /// Every choice's word, in that order.
            pub const WORDS: &'static [&'static str] = &[$($word),*];
            /// The word in front matter.
            pub const fn word(self) -> &'static str { match self { $($name::$variant => $word),* } }
            /// The choice that a word names.
            pub fn from_word(word: &str) -> Option<$name> { Self::ALL.iter().copied().find(|c| c.word() == word) }
        }
        impl Choice for $name {
            fn from_word(word: &str) -> Option<$name> { $name::from_word(word) }
        }
    };
}

words!(/// `vehicle.kind`
    VehicleKind { /// A car.
        Car = "car", /// A van.
        Van = "van", /// A boat.
        Boat = "boat", /// A tractor.
        Tractor = "tractor", /// A lorry.
        Lorry = "lorry", /// A trailer, a horsebox.
        Trailer = "trailer" });
words!(/// `vehicle.body`
    BodyMaterial { /// Steel: a body path exists.
        Steel = "steel", /// Composite: no body path.
        Composite = "composite", /// Aluminium: a body path exists.
        Aluminium = "aluminium" });
words!(/// `vehicle.drive`
    Drive { /// Petrol engine.
        Petrol = "petrol", /// Diesel engine.
        Diesel = "diesel", /// Electric or hybrid drive.
        Electric = "electric", /// None: a trailer.
        None = "none" });
words!(/// What a zone holds besides wiring.
    Holds { /// A fuel tank or fuel line.
        Fuel = "fuel", /// A gas bottle.
        Gas = "gas" });
words!(/// Battery chemistry.
    Chemistry { /// Flooded (vented) lead-acid.
        Flooded = "flooded", /// Absorbed glass mat, valve-regulated.
        Agm = "agm", /// Gel, valve-regulated.
        Gel = "gel", /// Lithium iron phosphate with a protection board.
        Lfp = "lfp" });
words!(/// `housing.box`
    BoxKind { /// Closed, gas led away by a vent.
        Sealed = "sealed", /// Closed but for vent openings.
        Vented = "vented", /// No box.
        Open = "open" });
words!(/// `vent.kind`
    VentKind { /// From the battery's own vent port, by tube.
        PortTube = "port-tube", /// It stands in the open air.
        OpenAir = "open-air", /// Openings in its box.
        BoxOpenings = "box-openings" });
words!(/// `hold-down.kind`
    HoldDownKind { /// A clamp on the case or its foot.
        Clamp = "clamp", /// A frame over the top.
        Frame = "frame", /// A webbing strap.
        Strap = "strap", /// A stretchy cord.
        ElasticCord = "elastic-cord", /// Nothing.
        None = "none" });
words!(/// A run's metal.
    Metal { /// Copper.
        Copper = "copper", /// Aluminium.
        Aluminium = "aluminium", /// Copper-clad aluminium.
        CopperClad = "copper-clad-aluminium" });
words!(/// A run's insulation.
    Insulation { /// PVC.
        Pvc = "pvc", /// Cross-linked polyethylene.
        Xlpe = "xlpe", /// Ethylene-propylene rubber.
        Epr = "epr", /// Bare: a strap.
        Bare = "bare" });
words!(/// What covers a run along its whole length.
    Covering { /// Nothing but its insulation.
        None = "none", /// A sheath.
        Sheath = "sheath", /// Conduit.
        Conduit = "conduit", /// Trunking or a closed tray.
        Trunking = "trunking" });
words!(/// How a lug is fixed to its conductor.
    LugFixing { /// Crimped.
        Crimp = "crimp", /// Crimped, then soldered.
        CrimpAndSolder = "crimp-and-solder", /// Soldered only.
        Solder = "solder", /// A screw or clamp terminal.
        Screw = "screw" });
words!(/// Which kind of charger.
    ChargerKind { /// Battery to battery, through electronics.
        DcDc = "dc-dc", /// From a solar panel.
        Solar = "solar", /// From the mains.
        Mains = "mains" });
words!(/// Who controls the alternator's set-point.
    AlternatorControl { /// Its own regulator.
        Regulator = "regulator", /// The engine's computer, which may lower it.
        Ecu = "ecu" });
words!(/// How a load takes its current.
    LoadNature { /// Its rated current whatever the voltage.
        Current = "constant-current", /// Ohm's law from its rating at nominal voltage.
        Resistance = "resistance", /// Its rated power whatever the voltage.
        Power = "constant-power" });
words!(/// Sides of the vehicle, seen from the driver's seat.
    Side { /// Left.
        Left = "left", /// Right.
        Right = "right", /// Middle.
        Middle = "middle" });

/// One zone.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Where its key stands.
    pub at: Span,
    /// Its name for people.
    pub label: Placed<String>,
    /// Its ambient temperature, if given.
    pub ambient: Option<Placed<Temperature>>,
    /// An engine or machinery space.
    pub engine_space: bool,
    /// People are in it.
    pub occupied: bool,
    /// Fuel or gas in it.
    pub holds: Vec<Placed<Holds>>,
}

/// One part.
#[derive(Clone, Debug)]
pub struct Part {
    /// Where its key stands.
    pub at: Span,
    /// What it is, and what only such a part has.
    pub kind: PartKind,
    /// Where the word after `is:` stands.
    pub is_at: Span,
    /// Its zone's name. The body has none.
    pub zone: Option<Placed<String>>,
    /// Its name for people, when the key alone will not do.
    pub label: Option<Placed<String>>,
    /// What it is bolted to, and so returns through: a part's name or `body@ZONE`.
    pub bolted_to: Option<Placed<String>>,
    /// The measured resistance of that bolted joint.
    pub bolt_resistance: Option<Placed<Resistance>>,
    /// Its live terminals are covered.
    pub covers: Option<Placed<bool>>,
    /// Its terminal stud.
    pub stud: Option<Placed<Thread>>,
    /// How heavy it is.
    pub mass: Option<Placed<Mass>>,
    /// Distance from the nearest battery's gas outlet, straight line.
    pub from_vent: Option<Placed<Length>>,
    /// Left, right or middle, for the plan.
    pub side: Option<Placed<Side>>,
    /// How high, in the author's words, for the plan.
    pub height: Option<Placed<String>>,
    /// On the vehicle already, and staying as it is.
    pub existing: bool,
}

/// What a part is.
#[derive(Clone, Debug)]
pub enum PartKind {
    /// A battery, or a series pair as one.
    Battery(Box<Battery>),
    /// A breaker.
    Breaker(Protector),
    /// A fuse.
    Fuse(Protector),
    /// A hand-worked isolator.
    Isolator(Switch),
    /// A relay.
    Relay(Switch),
    /// One stud.
    Post,
    /// A bar with several studs.
    Busbar(Busbar),
    /// A connector in a cable.
    Connector(Switch),
    /// A fuse panel with what hangs on it.
    Panel(Load),
    /// Anything that takes current.
    Load(Load),
    /// A winch.
    Winch(Load),
    /// An inverter.
    Inverter(Load),
    /// A charger.
    Charger(Charger),
    /// A starter motor.
    Starter(Starter),
    /// An alternator.
    Alternator(Alternator),
    /// The engine block.
    Engine,
    /// The vehicle's body.
    Body(Body),
}

impl PartKind {
    /// The words after `is:`, in the order in which they are offered.
    pub const WORDS: &'static [&'static str] = &[
        "battery",
        "breaker",
        "fuse",
        "isolator",
        "relay",
        "post",
        "busbar",
        "connector",
        "panel",
        "load",
        "winch",
        "inverter",
        "charger",
        "starter",
        "alternator",
        "engine",
        "body",
    ];

    /// The word after `is:`.
    pub const fn word(&self) -> &'static str {
        match self {
            PartKind::Battery(_) => "battery",
            PartKind::Breaker(_) => "breaker",
            PartKind::Fuse(_) => "fuse",
            PartKind::Isolator(_) => "isolator",
            PartKind::Relay(_) => "relay",
            PartKind::Post => "post",
            PartKind::Busbar(_) => "busbar",
            PartKind::Connector(_) => "connector",
            PartKind::Panel(_) => "panel",
            PartKind::Load(_) => "load",
            PartKind::Winch(_) => "winch",
            PartKind::Inverter(_) => "inverter",
            PartKind::Charger(_) => "charger",
            PartKind::Starter(_) => "starter",
            PartKind::Alternator(_) => "alternator",
            PartKind::Engine => "engine",
            PartKind::Body(_) => "body",
        }
    }
}

/// A battery's own facts.
#[derive(Clone, Debug)]
pub struct Battery {
    /// `chemistry:`
    pub chemistry: Placed<Chemistry>,
    /// `capacity:`
    pub capacity: Placed<Charge>,
    /// `cold-cranking:` of one 12 V unit.
    pub cold_cranking: Option<Placed<ColdCranking>>,
    /// `internal-resistance:` the warm cranking figure, of one 12 V unit.
    pub internal_resistance: Option<Placed<Resistance>>,
    /// `short-circuit-resistance:` the first-moment figure, of one 12 V unit.
    pub short_circuit_resistance: Option<Placed<Resistance>>,
    /// `discharge:` what its protection board allows.
    pub discharge: Option<Discharge>,
    /// `charge: {max: …}`
    pub charge_max: Option<Placed<Current>>,
    /// `cold-charge-cutoff:`
    pub cold_charge_cutoff: Option<Placed<Temperature>>,
    /// `housing:`
    pub housing: Option<Housing>,
    /// `hold-down:`
    pub hold_down: Option<HoldDown>,
}

/// What a protection board lets out.
#[derive(Clone, Debug)]
pub struct Discharge {
    /// For good.
    pub continuous: Placed<Current>,
    /// For a while.
    pub peak: Option<(Placed<Current>, Placed<Duration>)>,
}

/// `housing:`
#[derive(Clone, Debug)]
pub struct Housing {
    /// Where it stands.
    pub at: Span,
    /// `box:`
    pub box_kind: Placed<BoxKind>,
    /// `vent:`
    pub vent: Option<Vent>,
    /// `covers:` the live terminals are covered.
    pub covers: Option<Placed<bool>>,
    /// `tray:` an acid-proof tray.
    pub tray: Option<Placed<bool>>,
}

/// `vent:`
#[derive(Clone, Debug)]
pub struct Vent {
    /// Where it stands.
    pub at: Span,
    /// `kind:`
    pub kind: Placed<VentKind>,
    /// `to:` a zone's name, or outside.
    pub to: Placed<VentTo>,
    /// `inlet:` free area.
    pub inlet: Option<Placed<Area>>,
    /// `outlet:` free area.
    pub outlet: Option<Placed<Area>>,
}

/// Where a vent leads.
#[derive(Clone, Debug, PartialEq)]
pub enum VentTo {
    /// To the open air.
    Outside,
    /// To a zone.
    Zone(String),
}

/// `hold-down:`
#[derive(Clone, Debug)]
pub struct HoldDown {
    /// Where it stands.
    pub at: Span,
    /// `kind:`
    pub kind: Placed<HoldDownKind>,
    /// `bolts:` how many.
    pub bolts: Option<Placed<u32>>,
    /// `thread:`
    pub thread: Option<Placed<Thread>>,
    /// `grade:` the bolts' property class, as 8.8.
    pub grade: Option<Placed<f64>>,
    /// `plate:` counter-plate under each bolt: area and thickness.
    pub plate: Option<(Placed<Area>, Placed<Length>)>,
    /// `into:` what the bolts pass through, as `chassis` or `panel`.
    pub into: Option<Placed<String>>,
}

/// A breaker or a fuse.
#[derive(Clone, Debug)]
pub struct Protector {
    /// `rating:`
    pub rating: Placed<Current>,
    /// `volts:` the most it may break.
    pub volts: Option<Placed<Voltage>>,
    /// `breaks:` the most current it can break.
    pub breaks: Option<Placed<Current>>,
    /// `opens:` its maker's points, least current first.
    pub opens: Vec<OpeningPoint>,
    /// `form:` a published class of device, by its id in the handbook, for opening times.
    pub form: Option<Placed<String>>,
    /// `resets:` for a breaker: `manual` or `automatic`.
    pub resets_itself: Option<Placed<bool>>,
    /// `resistance:` measured.
    pub resistance: Option<Placed<Resistance>>,
    /// `reachable:` can be worked from where people are.
    pub reachable: Option<Placed<bool>>,
}

/// One point of a maker's opening-time sheet.
#[derive(Clone, Copy, Debug)]
pub struct OpeningPoint {
    /// Where it stands.
    pub at: Span,
    /// Current as a share of the rating.
    pub of_rating: Ratio,
    /// Shortest opening time.
    pub least: Duration,
    /// Longest opening time.
    pub most: Duration,
}

/// An isolator, relay or connector: something in series that may be open.
#[derive(Clone, Debug)]
pub struct Switch {
    /// `rating:` continuous.
    pub rating: Option<Placed<Current>>,
    /// `volts:`
    pub volts: Option<Placed<Voltage>>,
    /// `resistance:` measured.
    pub resistance: Option<Placed<Resistance>>,
    /// `reachable:` can be worked from where people are.
    pub reachable: Option<Placed<bool>>,
}

/// `is: busbar`
#[derive(Clone, Debug)]
pub struct Busbar {
    /// `rating:`
    pub rating: Option<Placed<Current>>,
    /// `section:` of the bar.
    pub section: Option<Placed<Area>>,
}

/// Anything that takes current.
#[derive(Clone, Debug)]
pub struct Load {
    /// `takes:` how.
    pub nature: Option<Placed<LoadNature>>,
    /// `rating:` its current, for the sizing of its run where no state says more.
    pub rating: Option<Placed<Current>>,
    /// `power:` likewise.
    pub power: Option<Placed<Power>>,
    /// `inrush:` current and for how long.
    pub inrush: Option<Surge>,
    /// `needs: steady`
    pub needs_steady: bool,
    /// `can-overload:` can take more than its rating for long: panels, sockets, inverters do.
    pub can_overload: Option<Placed<bool>>,
    /// `intermittent:` works by duty, like a winch.
    pub intermittent: bool,
    /// `mains:` makes mains voltage.
    pub mains: bool,
}

/// A current for a time.
#[derive(Clone, Copy, Debug)]
pub struct Surge {
    /// How much.
    pub current: Placed<Current>,
    /// For how long.
    pub lasts: Placed<Duration>,
}

/// `is: charger`
#[derive(Clone, Debug)]
pub struct Charger {
    /// `kind:`
    pub kind: Placed<ChargerKind>,
    /// `output:` its output limit.
    pub output: Placed<Current>,
    /// `set-point:` its output voltage.
    pub set_point: Option<Placed<Voltage>>,
    /// `efficiency:`
    pub efficiency: Option<Placed<Ratio>>,
}

/// `is: starter`
#[derive(Clone, Debug)]
pub struct Starter {
    /// `cranking:` steady current and for how long.
    pub cranking: Surge,
    /// `inrush:`
    pub inrush: Option<Surge>,
}

/// `is: alternator`
#[derive(Clone, Debug)]
pub struct Alternator {
    /// `output:`
    pub output: Placed<Current>,
    /// `set-point:`
    pub set_point: Option<Placed<Voltage>>,
    /// `control:`
    pub control: Option<Placed<AlternatorControl>>,
    /// `self-limiting:` whether its output is limited by its own windings; unsaid is yes.
    pub self_limiting: Option<Placed<bool>>,
}

/// `is: body`
#[derive(Clone, Debug)]
pub struct Body {
    /// `between:` measured resistances between two zones.
    pub between: Vec<BodyMeasured>,
}

/// One measured body resistance.
#[derive(Clone, Debug)]
pub struct BodyMeasured {
    /// Where it stands.
    pub at: Span,
    /// One zone.
    pub from: String,
    /// The other.
    pub to: String,
    /// Measured between them.
    pub resistance: Placed<Resistance>,
}

/// One run: a cable or strap between two terminals.
#[derive(Clone, Debug)]
pub struct Run {
    /// Where its key stands.
    pub at: Span,
    /// `from:` a terminal.
    pub from: Placed<String>,
    /// `to:` a terminal.
    pub to: Placed<String>,
    /// `size:`
    pub size: Placed<CableSize>,
    /// `section:` the true section of metal, where it is not what the size says (clad cable sold by gauge).
    pub section: Option<Placed<Area>>,
    /// `length:`, or the sum of `laid:`.
    pub length: Placed<Length>,
    /// `laid:` how much lies in which zone, in order from `from` to `to`. Empty where only a length was given.
    pub laid: Vec<Laid>,
    /// `metal:`
    pub metal: Option<Placed<Metal>>,
    /// `insulation:`
    pub insulation: Option<Placed<Insulation>>,
    /// `rated:` the insulation's temperature.
    pub rated: Option<Placed<Temperature>>,
    /// `covering:`
    pub covering: Option<Placed<Covering>>,
    /// `strap:` a bare or braided strap.
    pub strap: bool,
    /// `resistance:` measured end to end, with its joints.
    pub resistance: Option<Placed<Resistance>>,
    /// `joints:` measured resistance of each end's joint.
    pub joint_resistance: Option<Placed<Resistance>>,
    /// `colour:`
    pub colour: Option<Placed<String>>,
    /// `bundled-with:` runs that lie in one bundle with it.
    pub bundled_with: Vec<Placed<String>>,
    /// `edge-guards:` grommets and guards wherever it passes an edge.
    pub edge_guards: Option<Placed<bool>>,
    /// `supports:` the longest distance between two supports.
    pub supports: Option<Placed<Length>>,
    /// `bend:` its tightest bend radius.
    pub bend: Option<Placed<Length>>,
    /// `outside-diameter:` over the insulation.
    pub outside_diameter: Option<Placed<Length>>,
    /// `lugs:` how both ends are made.
    pub lugs: Option<Lugs>,
    /// `side:` on which side of the vehicle it is laid, for the plan.
    pub side: Option<Placed<Side>>,
    /// `height:` how high it is laid, in the author's words.
    pub height: Option<Placed<String>>,
    /// `existing:` on the vehicle already, and staying as it is.
    pub existing: bool,
}

/// Part of a run that lies in one zone.
#[derive(Clone, Debug)]
pub struct Laid {
    /// The zone's name.
    pub zone: Placed<String>,
    /// How much of the run.
    pub length: Placed<Length>,
}

/// How a run's ends are made.
#[derive(Clone, Debug)]
pub struct Lugs {
    /// `fixing:`
    pub fixing: Option<Placed<LugFixing>>,
    /// `size:` the conductor that the lug is made for.
    pub size: Option<Placed<CableSize>>,
    /// `from-hole:` the lug's hole at the `from` end.
    pub from_hole: Option<Placed<Thread>>,
    /// `to-hole:` the lug's hole at the `to` end.
    pub to_hole: Option<Placed<Thread>>,
}

/// What is on at once.
#[derive(Clone, Debug)]
pub struct State {
    /// Where its key stands.
    pub at: Span,
    /// Its name for people.
    pub label: Option<Placed<String>>,
    /// `for:` how long; unsaid is continuous.
    pub lasts: Option<Placed<Duration>>,
    /// `every:` the whole cycle, where it is repeated.
    pub every: Option<Placed<Duration>>,
    /// What each part named does.
    pub parts: IndexMap<String, Doing>,
}

/// What a part does in a state.
#[derive(Clone, Debug)]
pub struct Doing {
    /// Where its key stands.
    pub at: Span,
    /// What.
    pub activity: Placed<Activity>,
}

/// What a part can do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Activity {
    /// Takes a current.
    Takes(Current),
    /// Takes a power, constant at its terminals.
    Power(Power),
    /// `running`
    Running,
    /// `cranking`
    Cranking,
    /// `open`
    Open,
    /// `closed`
    Closed,
}

/// `endurance:` a claim held against the numbers.
#[derive(Clone, Debug)]
pub struct EnduranceClaim {
    /// Where it stands.
    pub at: Span,
    /// In which state.
    pub state: Placed<String>,
    /// Hours to half charge, at least.
    pub lasts: Placed<Duration>,
}

/// A trial shown beside the guide.
#[derive(Clone, Debug)]
pub struct Variant {
    /// Where its key stands.
    pub at: Span,
    /// `title:`
    pub title: Placed<String>,
    /// `change:` laid over the front matter; `none` takes away.
    pub change: tree::Node,
    /// `claim: {trips: […]}` rules that it must trip, at least.
    pub trips: Vec<Placed<String>>,
    /// `why:` what the reader should learn from it.
    pub why: Option<Placed<String>>,
}

/// A reviewer's written answer to a query.
#[derive(Clone, Debug)]
pub struct Answer {
    /// Where it stands.
    pub at: Span,
    /// `rule:`
    pub rule: Placed<String>,
    /// `about:` the part or run; unsaid answers the rule for the whole guide.
    pub about: Option<Placed<String>>,
    /// `reason:`
    pub reason: Placed<String>,
    /// `by:`
    pub by: Placed<String>,
    /// `until:`
    pub until: Placed<jiff::civil::Date>,
}

/// `record:` the reviewer's sign-off.
#[derive(Clone, Debug)]
pub struct Record {
    /// Where it stands.
    pub at: Span,
    /// `by:`
    pub by: Placed<String>,
    /// `on:` is a YAML 1.1 word for true, so the key is `dated:`.
    pub dated: Placed<jiff::civil::Date>,
    /// `digest:` of the inputs it was given for.
    pub digest: Placed<String>,
}

/// One earlier revision.
#[derive(Clone, Debug)]
pub struct Change {
    /// `dated:`
    pub dated: Placed<jiff::civil::Date>,
    /// `what:`
    pub what: Placed<String>,
}

/// What stands below the front matter.
#[derive(Clone, Debug, Default)]
pub struct Text {
    /// The whole text's place in the file.
    pub at: Span,
    /// Blocks in order: what stands between the steps, and the steps.
    pub blocks: Vec<Block>,
    /// Every `run:` and `part:` link, in steps and out of them.
    pub links: Vec<Link>,
    /// Every `<value:…>`: the path, and the autolink's place.
    pub values: Vec<Placed<String>>,
    /// Every drawing that stands in the text.
    pub drawings: Vec<DrawingPlace>,
    /// Every photo.
    pub photos: Vec<Photo>,
    /// Every link to a file of the guide, or to another guide: the reference without `#…`, decoded, and the link's place.
    pub files: Vec<Placed<String>>,
    /// Every link to a heading of the same text: what stands after `#`, and the link's place.
    pub anchors: Vec<Placed<String>>,
}

/// `![How it is wired](drawing:wiring)`
#[derive(Clone, Debug)]
pub struct DrawingPlace {
    /// The image's place.
    pub at: Span,
    /// One of [`DRAWINGS`].
    pub name: String,
    /// What stands between the brackets: its caption.
    pub caption: String,
}

/// `![The battery in its frame](frame.jpg)`
#[derive(Clone, Debug)]
pub struct Photo {
    /// The image's place.
    pub at: Span,
    /// The file below the guide's folder, decoded, with forward slashes.
    pub path: String,
    /// What stands between the brackets, for those who cannot see it.
    pub words: String,
}

/// The drawings that a text may show.
pub const DRAWINGS: &[&str] = &["wiring", "plan", "volts", "opening", "chafe"];

/// A stretch of the text.
#[derive(Clone, Debug)]
pub enum Block {
    /// Markdown that is no step: a paragraph, a heading, a photo, a table.
    Prose(Span),
    /// One item of a top-level ordered list.
    Step(Step),
}

/// One step.
#[derive(Clone, Debug)]
pub struct Step {
    /// Its number through the guide, from 1.
    pub number: usize,
    /// The item's Markdown in the file, without its list marker. Continuation lines keep their indent.
    pub at: Span,
    /// What it says, without markup, for rules that read figures.
    pub words: String,
    /// The same, piece by piece with its place, for findings that point at a figure. Values of the circuit are not in it.
    pub pieces: Vec<Placed<String>>,
    /// `run:` and `part:` links, in order.
    pub links: Vec<Link>,
}

/// A link from the text to the circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Where it stands.
    pub at: Span,
    /// To what.
    pub target: Target,
}

/// What a link, value or drawing names.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// A part.
    Part(String),
    /// A run.
    Run(String),
}

impl Text {
    /// The steps in order.
    pub fn steps(&self) -> impl Iterator<Item = &Step> {
        self.blocks.iter().filter_map(|b| match b {
            Block::Step(step) => Some(step),
            Block::Prose(_) => None,
        })
    }
}

pub mod check;
pub mod fault;
pub mod keys;
pub mod publisher;
pub mod read;
pub mod schema;
pub mod text;
pub mod tree;
pub mod value;

pub use publisher::Publisher;
pub use read::read;
pub use schema::schema;
