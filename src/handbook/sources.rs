//! Published sources, listed once by id.
//!
//! A rule or a table row names an id; pages print the title, and [`Source::adopted_from`] beside it where a rule of
//! another trade was chosen. Addresses that are a maker's or seller's are left out on purpose.

use Certainty::{CommonPractice, Derived, Judgement, Memory, Verified};

/// How sure a figure is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Certainty {
    /// Seen in a copy of the source, or in a second text that quotes it; the title says which.
    Verified,
    /// Our arithmetic on verified figures.
    Derived,
    /// Workshop habit; no source.
    CommonPractice,
    /// Our engineering judgement; no source.
    Judgement,
    /// Not seen: from memory. May query, never fail.
    Memory,
}

impl Certainty {
    /// The mark printed beside a figure.
    pub const fn word(self) -> &'static str {
        match self {
            Certainty::Verified => "verified",
            Certainty::Derived => "worked",
            Certainty::CommonPractice => "common practice, no source",
            Certainty::Judgement => "our judgement, no source",
            Certainty::Memory => "from memory",
        }
    }

    /// Whether a rule may call a guide unsafe on such a figure. What rests on memory or judgement may only query.
    pub const fn may_fail(self) -> bool {
        matches!(self, Certainty::Verified | Certainty::Derived)
    }
}

/// One published source, or the mark of having none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Source {
    /// Kebab-case id, by which rules name it.
    pub id: &'static str,
    /// Document, edition and clause or table, as printed for people.
    pub title: &'static str,
    /// How sure the figures we take from it are.
    pub certainty: Certainty,
    /// What it was written for, where that is not a road vehicle or small boat's wiring: printed as `adopted`.
    pub adopted_from: Option<&'static str>,
    /// Where it was seen, if it may be told.
    pub address: Option<&'static str>,
}

/// The source with this id.
pub fn find(id: &str) -> Option<&'static Source> {
    ALL.iter().find(|source| source.id == id)
}

/// The listed spelling of an id that a data file names. A data file that names another is broken, and a test reads
/// them all.
pub(crate) fn known(id: &str) -> &'static str {
    find(id).map(|source| source.id).unwrap_or_else(|| panic!("handbook: no source `{id}`"))
}

const fn source(
    id: &'static str,
    certainty: Certainty,
    title: &'static str,
    adopted_from: Option<&'static str>,
    address: Option<&'static str>,
) -> Source {
    Source { id, title, certainty, adopted_from, address }
}

/// Every source, by subject.
pub const ALL: &[Source] = &[
    source(
        "nbs-c31",
        Verified,
        "NBS Circular 31 (1914) and NBS Handbook 100 (1966), copper wire tables: 100 % IACS, 0.017241 Ω mm²/m",
        None,
        Some("http://hyperphysics.phy-astr.gsu.edu/hbase/Tables/wirega.html"),
    ),
    source(
        "astm-b258",
        Verified,
        "ASTM B258-02, diameters of the American wire gauge",
        None,
        Some("https://www.liquisearch.com/american_wire_gauge/formula"),
    ),
    source(
        "iec-60228",
        Verified,
        "IEC 60228:2004, Table 3 (class 5) and Table 2 (class 2), plain copper (seen in reprints that agree)",
        None,
        None,
    ),
    source(
        "iec-60949",
        Verified,
        "IEC 60949, constants of metals for short-time heating (seen in a summary)",
        None,
        Some("https://www.scribd.com/doc/310133671"),
    ),
    source(
        "nec-ch9-table-8",
        Verified,
        "NFPA 70 (NEC) 2011, chapter 9 Table 8: conductor resistance at 75 °C",
        Some("buildings (USA)"),
        None,
    ),
    source("iso-6722", Memory, "ISO 6722-1:2011, conductor resistance", None, None),
    source(
        "cfr33-183-425",
        Verified,
        "33 CFR 183.425 and Table 5: allowable current and least sizes of conductors",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        Some("http://federal.elaws.us/cfr/title-33/section-183.425"),
    ),
    source(
        "cfr33-183-425-note-1",
        Verified,
        "33 CFR 183.425 Table 5, Note 1, 105 °C row: factor in engine spaces",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        None,
    ),
    source(
        "cfr33-183-425-note-1-memory",
        Memory,
        "33 CFR 183.425 Table 5, Note 1, other rows: factor in engine spaces",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        None,
    ),
    source(
        "cfr33-183-425-note-2",
        Verified,
        "33 CFR 183.425 Table 5, Note 2: factor for bundles; binds from 50 V only, 183.435(b)",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        Some("https://codes.findlaw.com/cfr/title-33-navigation-and-navigable-waters/cfr-sect-33-183-435/"),
    ),
    source(
        "ac43-13-1b",
        Verified,
        "FAA AC 43.13-1B, chapter 11: wire tables 11-3, 11-7 to 11-9 and 11-66",
        Some("aircraft (USA)"),
        Some("https://www.landseaskyspace.com/ac4313/p11-22.html"),
    ),
    source(
        "iec-60364-k",
        Verified,
        "IEC 60364-5-54 and 60364-4-43 Table 43A: k values and end temperatures (seen in NEN 1010, clause 543)",
        Some("fixed installations of buildings"),
        Some("http://www.witchesandangels.nl/nen1010/cn543.html"),
    ),
    source(
        "iec-60364-4-43",
        Memory,
        "IEC 60364-4-43:2008, 434.5.2: heating without loss of heat up to 5 s",
        Some("fixed installations of buildings"),
        None,
    ),
    source(
        "tm-5-3895-382-24",
        Verified,
        "US Army TM 5-3895-382-24, Table 30: largest drops while cranking, 12 V and 24 V",
        Some("US Army road rollers, column for engines with more than 2000 hours"),
        Some("https://constructionrollers.tpub.com/TM-5-3895-382-24/css/TM-5-3895-382-24_338.htm"),
    ),
    source(
        "tm-5-3820-256-24-4",
        Verified,
        "US Army TM 5-3820-256-24-4, pages 449-450: largest drops while cranking, 12 V",
        Some("a US Army water-well drilling machine"),
        Some("https://waterstorage.tpub.com/TM-5-3820-256-24-4/css/TM-5-3820-256-24-4_450.htm"),
    ),
    source(
        "tm-10-3930-671-24",
        Verified,
        "US Army TM 10-3930-671-24, page F-303: drop tests on starting circuits, and order of disconnecting",
        Some("US Army forklift trucks"),
        Some("https://constructionforklifts.tpub.com/TM-10-3930-671-24/css/TM-10-3930-671-24_556.htm"),
    ),
    source(
        "tm-5-2420-230-24-2",
        Verified,
        "US Army TM 5-2420-230-24-2, pages 13-23 and 13-33: battery cable and control circuit drops",
        Some("a US Army tractor"),
        Some("https://constructionexcavators.tpub.com/TM-5-2420-230-24-2/TM-5-2420-230-24-201291.html"),
    ),
    source(
        "sae-j541",
        Verified,
        "SAE J541, Table 1: starting circuit, both sides, per 100 A at 20 °C, light and medium duty (seen in a summary)",
        Some("battery terminals to motor terminals without switching devices"),
        Some("https://tnlab.org/en/sae-j541-voltage-drop-recommendations-for-starting-motor-circuits/"),
    ),
    source(
        "ac43-13-1b-11-6",
        Memory,
        "FAA AC 43.13-1B CHG 1, Table 11-6: intermittent drop",
        Some("aircraft (USA)"),
        None,
    ),
    source(
        "faa-h-8083-32",
        Verified,
        "FAA-H-8083-32, voltage drop in aircraft wire: return through the airframe at most 5 mΩ",
        Some("aircraft (USA)"),
        Some("http://www.flight-mechanic.com/voltage-drop-in-aircraft-wire-and-cable-powerplant-electrical-systems/"),
    ),
    source(
        "ac43-13-1b-11-188",
        Verified,
        "FAA AC 43.13-1B, 11-188 f: bond of equipment to structure at most 2.5 mΩ",
        Some("aircraft (USA)"),
        Some("https://www.landseaskyspace.com/ac4313/p11-74.html"),
    ),
    source(
        "mil-dtl-83454",
        Verified,
        "MIL-DTL-83454A 4.5.3: drop of a stud terminal, 0.17 to 0.30 mΩ",
        Some("military terminals"),
        Some("https://lugsterminalsterminalstrips.emilspec.com/MIL-DTL-83454/page13.html"),
    ),
    source(
        "iso-10133",
        Verified,
        "ISO 10133:2012: 10 % of nominal at any load with all loads on (seen in a certification checklist)",
        Some("small craft"),
        Some("https://it.scribd.com/document/275218365"),
    ),
    source(
        "iso-10133-steady",
        Verified,
        "ISO 10133:2012, 4.7-4.8: 3 % for panel mains, navigation lights, blowers and pumps (seen in a summary)",
        Some("small craft"),
        Some(
            "https://lateststandardsdownload.com/iso-10133-pdf-download-small-craft-electrical-systems-extra-low-voltage-d-c-installations.html",
        ),
    ),
    source(
        "iso-10133-5",
        Verified,
        "ISO 10133:2012, clause 5: batteries (seen in a summary)",
        Some("small craft"),
        Some("https://it.scribd.com/document/275218365"),
    ),
    source(
        "iso-10133-7",
        Verified,
        "ISO 10133:2012, 7.3-7.7: supports, chafe, least sections (seen in a reprint)",
        Some("small craft"),
        Some(
            "https://www.mealir.com/iso-10133-2012-pdf-download-small-craft-electrical-systems-extra-low-voltage-d-c-installations.html",
        ),
    ),
    source(
        "abyc-e11",
        Verified,
        "ABYC E-11: drop of 3 and 10 %, lugs on a stud, battery switches, starter feed exempt (seen quoted)",
        Some("pleasure boats (a voluntary standard, USA)"),
        Some("https://www.cruisersforum.com/forums/f55/different-wire-sizes-in-bilge-pump-circuit-75294-3.html"),
    ),
    source(
        "abyc-e11-placement",
        Verified,
        "ABYC E-11 (2004) 11.12.1.1.1, exceptions 1 and 2: device within 72 in of a battery, 40 in of another source, if sheathed throughout",
        Some("pleasure boats (a voluntary standard, USA)"),
        Some("http://www.cruisersforum.com/forums/f14/dc-overcurrent-protection-fuses-or-breakers-3193.html"),
    ),
    source(
        "abyc-e11-v-a",
        Verified,
        "ABYC E-11, Table V-A (an older edition): least breaking capacity",
        Some("pleasure boats (a voluntary standard, USA)"),
        None,
    ),
    source(
        "cfr33-183-455",
        Verified,
        "33 CFR 183.455: place and rating of fuses and breakers",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        Some("https://self-law.org/code/us/cfr/t33/s%C2%A7%20183.455"),
    ),
    source(
        "cfr33-183-455-e",
        Memory,
        "33 CFR 183.455(e): conductors left out, cranking conductors among them",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        None,
    ),
    source(
        "cfr33-183-460",
        Memory,
        "33 CFR 183.460: device within 72 in of the battery; main feed to the cranking motor exempt; alternator device at most 120 %",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        None,
    ),
    source(
        "cfr33-183-445",
        Verified,
        "33 CFR 183.445: guards at edges (a), live terminals covered (b)",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        Some("https://www.law.cornell.edu/cfr/text/33/183.445"),
    ),
    source(
        "cfr33-183-420",
        Verified,
        "33 CFR 183.420: batteries held, covered, vented, kept from fuel",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        Some("https://codes.findlaw.com/cfr/title-33-navigation-and-navigable-waters/cfr-sect-33-183-420/"),
    ),
    source(
        "ignition-protection",
        Memory,
        "33 CFR 183.410: what can spark in a petrol space does not ignite vapour",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        None,
    ),
    source(
        "cfr33-183-630",
        Verified,
        "33 CFR 183.630: openings for petrol vapour (not for hydrogen)",
        Some("boats with petrol inboard engines (a rule for their builders, USA)"),
        Some("https://laws9.com/cfr/text/33/183/630"),
    ),
    source(
        "cfr46-111-15-25",
        Verified,
        "46 CFR 111.15-25(a): overload device in each battery conductor; engine-cranking batteries exempt",
        Some("ships (USA)"),
        None,
    ),
    source(
        "cfr46-111-50-3",
        Verified,
        "46 CFR 111.50-3: rating up to 150 % where no standard size fits; no devices in parallel",
        Some("ships (USA)"),
        None,
    ),
    source(
        "cfr46-111-50-5",
        Verified,
        "46 CFR 111.50-5(a)(3): device at the point of supply of a smaller conductor, unless the larger one's device protects it",
        Some("ships (USA)"),
        Some("https://law.lawstack.com/cfr/46/111.50-5/"),
    ),
    source(
        "cfr46-183-340",
        Verified,
        "46 CFR 183.340: supports every 610 mm",
        Some("small passenger vessels (USA)"),
        Some("https://laws9.com/cfr/text/46/183/340"),
    ),
    source(
        "cfr46-183-350",
        Verified,
        "46 CFR 183.350: batteries secured, reachable, in a tray that stands electrolyte",
        Some("small passenger vessels (USA)"),
        None,
    ),
    source(
        "iso-13297",
        Verified,
        "ISO 13297:2020+A1:2022, 12.3: devices of charging sources",
        Some("small craft"),
        None,
    ),
    source(
        "cfr14-23-1357",
        Verified,
        "14 CFR 23.1357 (before 2017): starter circuits exempt; devices trip-free",
        Some("aircraft (USA)"),
        None,
    ),
    source(
        "cfr49-393-30",
        Verified,
        "49 CFR 393.30: battery installation; starter cable guarded through metal",
        Some("commercial road vehicles (USA)"),
        Some("https://dot.ca.gov/programs/equipment/electrical/batteries"),
    ),
    source(
        "ac43-13-1b-11-48",
        Verified,
        "FAA AC 43.13-1B, 11-48: the breaker opens before the wire's rating is passed",
        Some("aircraft (USA)"),
        Some("https://www.landseaskyspace.com/ac4313/p11-15.html"),
    ),
    source(
        "nec-210-20",
        Verified,
        "NFPA 70 (NEC) 210.20(A): a continuous load at most 80 % of its device",
        Some("buildings (USA)"),
        None,
    ),
    source(
        "nec-240-21",
        Verified,
        "NFPA 70 (NEC) 240.21(B): taps",
        Some("buildings (USA)"),
        Some("https://ecmweb.com/national-electrical-code/article/21234555/nec-rules-for-tapping-feeders"),
    ),
    source(
        "iso-8820-3",
        Verified,
        "ISO 8820-3, blade fuse-links: opening times as printed in sheets that declare it; scope 1 kA at 32 or 58 V",
        None,
        Some("https://standards.iteh.ai/catalog/standards/iso/54acb12d-a6bd-4b11-b075-a1cac7a25758/iso-8820-3-2015"),
    ),
    source("iso-8820-3-memory", Memory, "ISO 8820-3, blade fuse-links: rows not seen", None, None),
    source(
        "iso-8820-5",
        Memory,
        "ISO 8820-5:2015, bolt-in strip fuse-links: opening times as usually printed",
        None,
        None,
    ),
    source(
        "iso-8820-5-scope",
        Verified,
        "ISO 8820-5:2015, scope: 30 to 500 A, 32 V, 2 kA",
        None,
        Some("https://www.ulstandardspdf.com/bs-iso-8820-5-2015-pdf-free.html"),
    ),
    source(
        "din-72581-3",
        Verified,
        "DIN 72581-3 Form E, large blade fuse-links: opening times and largest drop",
        None,
        Some("http://noiasca.rothschopf.net/deutsch/dkabel_sicherung.htm"),
    ),
    source(
        "blade-fuse-hot",
        Verified,
        "A maker's sheet of a 40 A large blade fuse: what it carries from 20 to 125 °C",
        None,
        None,
    ),
    source("makers-sheet", Verified, "The device maker's own sheet, as the guide's author gives it", None, None),
    source("ul-248-14", Verified, "UL 248-14, supplementary fuses: opening times", None, None),
    source("ul-248-15", Memory, "UL 248-15, Class T fuses: opening times", None, None),
    source(
        "ul-489",
        Verified,
        "UL 489, moulded-case breakers: calibration to 30 A and at 135 % to 50 A (seen in a comparison)",
        None,
        None,
    ),
    source("ul-489-memory", Memory, "UL 489, moulded-case breakers: other calibration rows", None, None),
    source(
        "ul-1077",
        Verified,
        "UL 1077, supplementary protectors: hold at rating; the maker declares the trip point",
        None,
        None,
    ),
    source(
        "iec-60898-1",
        Verified,
        "IEC 60898-1, type C breakers: opening times as printed in a breaker manual",
        None,
        None,
    ),
    source("iec-60269", Memory, "IEC 60269-1, gG fuses: conventional currents", None, None),
    source(
        "hydraulic-magnetic-notes",
        Verified,
        "Notes on delays of hydraulic-magnetic breakers: bounds without times",
        None,
        Some("https://studylib.net/doc/18045067/time-delay-curves"),
    ),
    source("sae-j553", Memory, "SAE J553, circuit breakers: trip windows", None, None),
    source("mil-prf-5809", Memory, "MIL-PRF-5809, aircraft thermal breakers: ultimate trip", Some("aircraft"), None),
    source(
        "ieee-946",
        Verified,
        "IEEE 946-2020, Annex D: short-circuit current of batteries; contributions added (seen in part)",
        Some("stationary plants"),
        None,
    ),
    source(
        "electrical-installation-work",
        Verified,
        "B. Scaddan, Electrical Installation Work, 5th edition: adiabatic sizes and discrimination of fuses",
        Some("buildings"),
        Some("https://zdroje.elektrika.cz/book/basic-electrical-installation-work/page/262"),
    ),
    source(
        "sae-j537",
        Verified,
        "SAE J537: cold-cranking current, −18 °C, 30 s, 7.2 V (seen in summaries)",
        None,
        Some("https://www.itwissen.info/en/cold-cracking-amps-car-battery-CCA.html"),
    ),
    source(
        "en-60095-1",
        Verified,
        "EN/IEC 60095-1 (older; now EN 50342-1): cold-cranking current, −18 °C, 10 s, 7.5 V (seen quoted)",
        None,
        Some("https://e30-talk.com/profile/13748-wusel/content/page/10/?all_activity=1"),
    ),
    source(
        "din-43539-2",
        Verified,
        "DIN 43539-2: cold-cranking current, −18 °C, 30 s, 9.0 V (seen quoted)",
        None,
        Some("https://e30-talk.com/profile/13748-wusel/content/page/10/?all_activity=1"),
    ),
    source(
        "cca-polynomial",
        Verified,
        "Published polynomial of cold-cranking current over temperature: 0.61 + 0.0082 T − 0.0000417 T², T in °F",
        None,
        Some("http://www.bgsoflex.com/ccatemp.html"),
    ),
    source(
        "open-circuit-lead",
        Verified,
        "Rested open-circuit voltages of 12 V lead-acid batteries, the lower of two published tables",
        None,
        None,
    ),
    source(
        "open-circuit-lfp",
        Memory,
        "Rested open-circuit voltages of lithium iron phosphate, four cells in series",
        None,
        None,
    ),
    source(
        "iec-60896-21",
        Memory,
        "IEC 60896-21, 6.3: resistance and short-circuit current from two points",
        Some("stationary batteries"),
        None,
    ),
    source(
        "stationary-short-circuit",
        Verified,
        "Calculation notes for DC distribution: about 10 times, never over 20 times the ampere-hours",
        Some("stationary batteries"),
        Some("https://studylib.net/doc/18035772/calculation-of-dc-distribution--system"),
    ),
    source(
        "ecu-alternator",
        Verified,
        "Service notes: alternators under the engine's computer run from 12.0 to 15.5 V",
        None,
        Some("https://matsch-und-piste.de/en/the-problem-with-smart-alternators/"),
    ),
    source(
        "alternator-regulation",
        Verified,
        "Service notes: alternators regulate at 13.5 to 14.5 V",
        None,
        Some("https://wds.psjr.org/us/e38old/zinfo/MCH0899FB1231_GRS.htm"),
    ),
    source(
        "iso-16750-2",
        Verified,
        "ISO 16750-2: load dump and starting profile (seen quoted and in a waveform file)",
        None,
        None,
    ),
    source(
        "iso-ts-23625",
        Verified,
        "ISO/TS 23625:2021: lithium-ion batteries in small craft (scope seen)",
        Some("small craft"),
        Some("https://standards.iteh.ai/catalog/standards/iso/ab7c8721-e8d0-45a2-967f-107f20a58a77/iso-ts-23625-2021"),
    ),
    source(
        "lithium-board",
        Verified,
        "Hong Kong battery industry note: a lithium battery's management system disconnects on over-current, over- and under-voltage and heat",
        None,
        Some("http://hongkongbia.com/news/13453855"),
    ),
    source(
        "lithium-cold-charge",
        Verified,
        "Notes from a cell maker's sheet: charging lithium cells under 0 °C plates metal",
        None,
        None,
    ),
    source(
        "iec-62485-2",
        Verified,
        "EN 50272-2:2001 clause 8.2 / IEC 62485-2: airflow, openings and Table 1 (seen in a copy and quoted)",
        Some("fixed battery rooms"),
        Some("https://www.yumpu.com/de/document/view/21369034"),
    ),
    source(
        "iec-62485-2-annex-b",
        Memory,
        "EN 50272-2 / IEC 62485-2, Annex B: distance to sparking parts",
        Some("fixed battery rooms"),
        None,
    ),
    source("iec-62485-3", Verified, "EN 50272-3 / IEC 62485-3: traction batteries", Some("industrial trucks"), None),
    source(
        "ufc-3-410-04n",
        Verified,
        "UFC 3-410-04N (2004), 8-3: hydrogen and air in battery shops",
        Some("US military buildings"),
        Some("http://buildingcriteria1.tpub.com/ufc_3_410_04n/ufc_3_410_04n0064.htm"),
    ),
    source(
        "ufc-3-520-01",
        Verified,
        "UFC 3-520-01 (2002), 14-1.3: hydrogen in battery rooms",
        Some("US military buildings"),
        Some("http://buildingcriteria2.tpub.com/ufc_3_520_01/ufc_3_520_010168.htm"),
    ),
    source(
        "nec-552-10",
        Verified,
        "NFPA 70 (NEC) 2008, 552.10(D): a battery compartment shut off from the inside, openings of 1100 mm² at top and bottom",
        Some("recreational park trailers (USA)"),
        Some("http://solar365.com/green-homes/national-electric-code-2008/park-trailers/page/0/1?page=0,1"),
    ),
    source(
        "tm-9-6140-200-14",
        Verified,
        "US Army TM 9-6140-200-14, 4-12: gas in and around lead-acid cells at all times",
        None,
        Some("https://batterymanuals.tpub.com/TM-9-6140-200-14/TM-9-6140-200-140065.htm"),
    ),
    source(
        "ohio-3304-6-12",
        Verified,
        "Ohio Adm. Code 3304-6-12(A)(3): battery in the passenger space only sealed from it and vented outside",
        Some("adapted vehicles (Ohio)"),
        Some("https://www.law.cornell.edu/regulations/ohio/Ohio-Admin-Code-3304-6-12"),
    ),
    source(
        "iso-12991",
        Verified,
        "ISO 12991:2012, 4.2.2 Table 1: decelerations",
        Some("gas fuel tanks of vehicles"),
        Some("https://www.scribd.com/document/486747060"),
    ),
    source(
        "un-r100",
        Memory,
        "UN R100, 02 series, Annex 8C: shock pulse",
        Some("traction batteries of electric vehicles"),
        None,
    ),
    source("fmvss-207", Verified, "FMVSS 207 S4.2: seats, 20 times their weight", Some("vehicle seats (USA)"), None),
    source(
        "fia-253",
        Verified,
        "FIA Appendix J, Article 253 (2021), 2: camera mounts, 25 g",
        Some("competition cars"),
        None,
    ),
    source("fia-255", Memory, "FIA Appendix J, Article 255, 5.8.3: battery fixing", Some("competition cars"), None),
    source("en-1789", Memory, "EN 1789: ambulance equipment, 10 g", Some("ambulances"), None),
    source(
        "german-sporting-handbook",
        Verified,
        "German national motor sport handbook, Group F: battery fixing, counter-plates 3 mm and 20 cm²",
        Some("competition cars"),
        Some("https://www.yumpu.com/de/document/view/21195877"),
    ),
    source(
        "uk-inspection",
        Verified,
        "UK vehicle inspection manual, 1.9: a battery insecure or leaking fails",
        Some("vehicle inspection (UK)"),
        None,
    ),
    source("iso-898-1", Memory, "ISO 898-1: stress areas and proof stresses of bolts", None, None),
    source(
        "ac43-13-1b-11-174",
        Verified,
        "FAA AC 43.13-1B CHG 1, 11-174: terminals, at most four on a stud",
        Some("aircraft (USA)"),
        Some("https://www.landseaskyspace.com/ac4313/p11-67.html"),
    ),
    source(
        "ac43-13-1b-11-96",
        Verified,
        "FAA AC 43.13-1B, 11-96: supports every 24 in, clearance from fuel lines",
        Some("aircraft (USA)"),
        Some("https://www.landseaskyspace.com/ac4313/p11-44.html"),
    ),
    source("ac43-13-1b-bend", Memory, "FAA AC 43.13-1B, 11-96: bends of ten diameters", Some("aircraft (USA)"), None),
    source(
        "mil-dtl-917",
        Verified,
        "MIL-DTL-917F, 3.12.2.8: at most three lugs on a stud",
        Some("naval equipment"),
        Some("https://electricalcontrolequipment.emilspec.com/MIL-DTL-917/page56.html"),
    ),
    source(
        "nasa-std-8739-4",
        Verified,
        "NASA-STD-8739.4: crimping; no crimp on solder-tinned strands",
        Some("spacecraft"),
        Some(
            "https://docslib.org/download/5279848/workmanship-standard-for-crimping-interconnecting-cables-harnesses-and-wiring",
        ),
    ),
    source(
        "abyc-e11-solder",
        Verified,
        "ABYC E-11: solder is never the only mechanical means at a terminal (seen quoted)",
        Some("pleasure boats (a voluntary standard, USA)"),
        None,
    ),
    source("ul-486a", Verified, "UL 486A: pull on a crimp", None, None),
    source("ul-486a-memory", Memory, "UL 486A: pull on a crimp, rows not seen", None, None),
    source("sae-as7928", Verified, "MIL-T-7928 / SAE AS7928: pull on a crimp", Some("aircraft"), None),
    source(
        "sae-as7928-memory",
        Memory,
        "MIL-T-7928 / SAE AS7928: pull on a crimp, rows not seen",
        Some("aircraft"),
        None,
    ),
    source(
        "abyc-e11-crimp",
        Memory,
        "ABYC E-11: pull on a crimp",
        Some("pleasure boats (a voluntary standard, USA)"),
        None,
    ),
    source(
        "tm-5-3895-374-24-1",
        Verified,
        "US Army TM 5-3895-374-24-1, M-8: torque on copper busbars",
        Some("a US Army machine"),
        Some("https://constructionasphalt.tpub.com/TM-5-3895-374-24-1/css/TM-5-3895-374-24-1_161.htm"),
    ),
    source("battery-terminal-torque", Verified, "A published battery manual: torque on lead terminals", None, None),
    source(
        "hse-indg139",
        Verified,
        "HSE INDG139: using electric storage batteries safely",
        None,
        Some("https://studylib.net/doc/18451054/using-electric-storage-batteries"),
    ),
    source(
        "cfr29-1926-441",
        Verified,
        "29 CFR 1926.441: batteries and battery charging",
        Some("building sites (USA)"),
        Some("https://www.osha.gov/pls/oshaweb/owadisp.show_document?p_table=standards&p_id=10742"),
    ),
    source(
        "bgr-147",
        Verified,
        "German trade rule 5.4.7.5 on vehicle repair: the minus contact broken first and made last",
        Some("repair workshops (Germany)"),
        Some("https://regelwerke.vbg.de/vbg_zuru/br147/br147_99_.html"),
    ),
    source(
        "tm-9-2350-287-20-2",
        Verified,
        "US Army TM 9-2350-287-20-2: acid in the eyes, 15 minutes of flowing water and medical help",
        Some("a US Army vehicle"),
        Some("https://personnelcarrier.tpub.com/TM-9-2350-287-20-2/css/TM-9-2350-287-20-2_5.htm"),
    ),
    source(
        "lithium-industry-note",
        Verified,
        "Hong Kong battery industry note on lithium-ion in boats: protection board, heat, fire detection, vent",
        Some("pleasure boats"),
        Some("https://hongkongbia.com/news/13453855"),
    ),
    source(
        "ansi-z535",
        Verified,
        "ANSI Z535 (2011 and later): signal words (seen in a summary)",
        None,
        Some("https://en.wikipedia.org/wiki/Precautionary_statement"),
    ),
    source(
        "wcag-2-2",
        Verified,
        "WCAG 2.2, 1.4.1, 1.4.3 and 1.4.11: contrast, and colour never the only cue",
        None,
        Some("https://www.w3.org/TR/WCAG22/"),
    ),
    source("physics", Derived, "Worked from verified constants", None, None),
    source("common-practice", CommonPractice, "Common practice, no source", None, None),
    source("judgement", Judgement, "Our engineering judgement, no source", None, None),
    source("memory", Memory, "From memory, not looked up", None, None),
];
