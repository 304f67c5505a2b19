use proptest::prelude::*;

use super::*;
use crate::quantity::{CableSize, ColdCranking, Show, Thread};

/// Reads a text as one type and shows it.
fn ok<T: Readable + Show>(text: &str) -> String {
    T::read(text).unwrap_or_else(|fault| panic!("{text}: {fault}")).show()
}

/// What is said of a text that is not read.
fn refused<T: Readable + std::fmt::Debug>(text: &str) -> (String, String) {
    let fault = T::read(text).expect_err(text);
    (fault.message, fault.remedy)
}

#[track_caller]
fn says<T: Readable + std::fmt::Debug>(text: &str, message: &str, remedy: &str) {
    assert_eq!(refused::<T>(text), (message.to_string(), remedy.to_string()), "{text}");
}

#[test]
fn what_installers_write_is_read() {
    for text in ["4.9 m", "4.9m", " 4.9  m ", "490 cm", "4900 mm", "4.9\u{a0}m", "4.9\u{202f}m"] {
        assert_eq!(ok::<Length>(text), "4.9 m", "{text:?}");
    }
    assert_eq!(ok::<Length>("350 mm"), "350 mm");
    assert_eq!(ok::<Length>("16 ft"), "4.88 m");
    assert_eq!(ok::<Length>("4 ft 6 in"), "1.37 m");
    assert_eq!(ok::<Length>("4ft6in"), "1.37 m");
    assert_eq!(ok::<Length>("4 ft 2in"), "1.27 m");
    assert_eq!(ok::<Length>(".5 m"), "500 mm");
    for text in ["50 mm²", "50 mm2", "50mm²", "50mm2", "50 ㎟"] {
        assert_eq!(CableSize::read(text), Ok(CableSize::Metric(50.0)), "{text}");
    }
    for (text, gauge) in
        [("1/0 AWG", 0), ("4/0 AWG", -3), ("4/0AWG", -3), ("4 AWG", 4), ("4AWG", 4), ("18 AWG", 18), ("24 AWG", 24)]
    {
        assert_eq!(CableSize::read(text), Ok(CableSize::Awg(gauge)), "{text}");
    }
    assert_eq!(ok::<Current>("150 A"), "150 A");
    assert_eq!(ok::<Current>("5 kA"), "5 kA");
    assert_eq!(ok::<Current>("0 A"), "0 A");
    for text in [
        "0.5 mΩ",
        "0.5 m\u{2126}",
        "0.5 mohm",
        "0.5mohm",
        "500 µΩ",
        "500 \u{3bc}Ω",
        "500 uohm",
        "0.0005 Ω",
        "0.0005 ohm",
    ] {
        assert_eq!(ok::<Resistance>(text), "0.5 mΩ", "{text}");
    }
    assert_eq!(ok::<Charge>("60 Ah"), "60 Ah");
    assert_eq!(ok::<ColdCranking>("640 A EN"), "640 A EN");
    assert_eq!(ok::<ColdCranking>("640A EN"), "640 A EN");
    assert_eq!(ok::<ColdCranking>("640 A DIN"), "640 A DIN");
    assert_eq!(ok::<ColdCranking>("640 A"), "640 A SAE");
    assert_eq!(ok::<Voltage>("14.4 V"), "14.4 V");
    assert_eq!(ok::<Voltage>("12.45 V"), "12.45 V");
    assert_eq!(ok::<Temperature>("60 °C"), "60 °C");
    for text in ["140 °F", "140 ℉", "140°F", "60 ℃", "60 ºC"] {
        assert_eq!(ok::<Temperature>(text), "60 °C", "{text}");
    }
    for text in ["-10 °C", "−10 °C", "- 10 °C", "14 °F"] {
        assert_eq!(ok::<Temperature>(text), "−10 °C", "{text}");
    }
    assert_eq!(ok::<Temperature>("0 °C"), "0 °C");
    assert_eq!(ok::<Mass>("18 kg"), "18 kg");
    assert_eq!(ok::<Mass>("40 lb"), "18.1 kg");
    assert_eq!(ok::<Power>("350 W"), "350 W");
    assert_eq!(ok::<Duration>("10 s"), "10 s");
    assert_eq!(ok::<Duration>("2 h"), "2 h");
    assert_eq!(ok::<Duration>("1 h 30 min"), "1.5 h");
    assert_eq!(ok::<Duration>("30 d"), "30 d");
    assert_eq!(ok::<Duration>("30 days"), "30 d");
    assert_eq!(ok::<Duration>("0 s"), "0 s");
    assert_eq!(ok::<Ratio>("135 %"), "135 %");
    assert_eq!(ok::<Ratio>("135%"), "135 %");
    assert_eq!(ok::<Area>("20 cm²"), "20 cm²");
    assert_eq!(ok::<Area>("20 cm2"), "20 cm²");
    assert_eq!(ok::<Area>("3.1 sq in"), "20 cm²");
    assert_eq!(ok::<Area>("3.1 in²"), "20 cm²");
    assert_eq!(ok::<Area>("50 mm²"), "50 mm²");
    assert_eq!(ok::<Thread>("M8"), "M8");
    assert_eq!(ok::<Thread>("M 10"), "M10");
    assert_eq!(ok::<Thread>("3/8 in"), "3/8 in");
}

#[test]
fn a_missing_unit_is_shown_with_units_that_would_do() {
    says::<Length>("4.9", "`4.9` has no unit; a length is needed", "write `4.9 m` or `4.9 ft`");
    says::<Length>("350", "`350` has no unit; a length is needed", "write `350 mm` or `350 in`");
    says::<Current>("150", "`150` has no unit; a current is needed", "write `150 A` or `150 kA`");
    says::<CableSize>("50", "`50` has no unit; a cable size is needed", "write `50 mm²`");
    says::<CableSize>("4", "`4` has no unit; a cable size is needed", "write `4 mm²` or `4 AWG`");
    says::<Ratio>("0.9", "`0.9` has no unit; a percentage is needed", "write `90 %` or `0.9 %`");
    says::<Temperature>("60", "`60` has no unit; a temperature is needed", "write `60 °C` or `60 °F`");
    says::<Thread>("8", "`8` is not how a thread is written", "write `M8`");
}

#[test]
fn a_wrong_dimension_is_named() {
    says::<Length>("4.9 V", "`4.9 V` is a voltage; a length is needed", "write a length, as `4.9 m`");
    says::<Current>("350 W", "`350 W` is a power; a current is needed", "write a current, as `150 A`");
    says::<Area>("20 cm", "`20 cm` is a length; an area is needed", "write an area, as `20 cm²`");
    says::<CableSize>("50 mm", "`50 mm` is a length; a cable size is a section", "write `50 mm²`");
    says::<CableSize>("50 A", "`50 A` is a current; a cable size is needed", "write `50 mm²` or `1/0 AWG`");
    says::<Length>("4 AWG", "`4 AWG` is a wire gauge; a length is needed", "write a length, as `4.9 m`");
    says::<Charge>(
        "768 Wh",
        "`768 Wh` is an energy; a capacity in ampere-hours is needed",
        "divide the watt-hours by the battery's voltage and write a capacity in ampere-hours, as `60 Ah`",
    );
}

#[test]
fn wrong_letter_case_and_words_are_shown_set_right() {
    says::<Voltage>("14.4 v", "`v` is not how a unit of voltage is written", "write `14.4 V`");
    says::<Voltage>("14.4 volts", "`volts` is not how a unit of voltage is written", "write `14.4 V`");
    says::<Current>("150 amps", "`amps` is not how a unit of current is written", "write `150 A`");
    says::<Charge>("60 AH", "`AH` is not how a unit of capacity is written", "write `60 Ah`");
    says::<Length>("4.9 M", "`M` is not how a unit of length is written", "write `4.9 m`");
    says::<Length>("16'", "`'` is not how a unit of length is written", "write `16 ft`");
    says::<Length>("12\"", "`\"` is not how a unit of length is written", "write `12 in`");
    says::<Temperature>("60 C", "`C` is not how a unit of temperature is written", "write `60 °C`");
    says::<Temperature>("-5 deg C", "`deg C` is not how a unit of temperature is written", "write `−5 °C`");
    says::<Mass>("40 lbs", "`lbs` is not how a unit of mass is written", "write `40 lb`");
    says::<Duration>("2 hrs", "`hrs` is not how a unit of time is written", "write `2 h`");
    says::<CableSize>("50 sqmm", "`sqmm` is not how a cable's section is written", "write `50 mm²`");
    says::<CableSize>("4 awg", "`4 awg` is not how a gauge is written", "write `4 AWG`");
    says::<CableSize>("AWG 4", "`AWG 4` is not how a gauge is written", "write `4 AWG`");
    says::<CableSize>("00 AWG", "`00 AWG` is not how that gauge is written", "write `2/0 AWG`");
    says::<CableSize>("1/0", "`1/0` is not how a gauge is written", "write `1/0 AWG`");
    says::<ColdCranking>("640 EN", "`640 EN` is not how a cold-cranking current is written", "write `640 A EN`");
    says::<ColdCranking>("640 A en", "`640 A en` is not how a cold-cranking current is written", "write `640 A EN`");
    says::<Thread>("m8", "`m8` is not how a thread is written", "write `M8`");
}

#[test]
fn numbers_that_could_be_taken_two_ways_are_refused() {
    says::<Length>("4,9 m", "`4,9 m` has a decimal comma", "write `4.9 m`");
    says::<Length>("4,9", "`4,9` has a decimal comma", "write `4.9 m`");
    says::<Current>("1,200 A", "`1,200 A` has a comma that can be read two ways", "write `1200 A` or `1.200 A`");
    says::<Current>("1,200,000 mA", "`1,200,000 mA` has commas between its thousands", "write `1200000 mA`");
    says::<Current>("1 200 A", "`1 200 A` has a space inside its number", "write `1200 A`");
    says::<Current>("1'200 A", "`1'200 A` has a mark between its digits", "write `1200 A`");
    says::<Current>(
        "1.200,5 A",
        "`1.200,5 A` has points between its thousands and a decimal comma",
        "write `1200.5 A`",
    );
    says::<Length>("1/2 in", "`1/2 in` has a fraction", "write `0.5 in`");
    says::<Length>("4 1/2 in", "`4 1/2 in` has a fraction", "write `4.5 in`");
    says::<Length>("4½ in", "`4½ in` has a fraction", "write `4.5 in`");
    says::<Current>("1e3 A", "`1e3 A` is written as a power of ten", "write `1000 A`");
    says::<Length>("5. m", "`5. m` ends in a point", "write `5 m`");
    says::<Length>("4-5 m", "`4-5 m` gives two figures where one is needed", "write `4.9 m`");
    says::<Temperature>("–10 °C", "`–10 °C` begins with a dash that is not a minus", "write `−10 °C`");
    says::<CableSize>("2,5 mm²", "`2,5 mm²` has a decimal comma", "write `2.5 mm²`");
}

#[test]
fn what_is_no_number_is_refused() {
    for text in [
        "nan V",
        "NaN V",
        ".nan",
        "inf V",
        "-inf V",
        "Infinity V",
        "1.2.3 V",
        "..",
        ",",
        "-",
        "V",
        "",
        " ",
        "volts",
        "≈ 5 V",
        "five V",
    ] {
        let (message, remedy) = refused::<Voltage>(text);
        assert!(!message.is_empty() && remedy.contains("14.4 V"), "{text:?}: {message}: {remedy}");
    }
    let huge = format!("{} V", "9".repeat(400));
    assert!(refused::<Voltage>(&huge).0.ends_with("is more than any voltage of a 12 V or 24 V installation"));
}

#[test]
fn absurd_figures_are_refused() {
    says::<Length>(
        "4 km",
        "`4 km` is more than any length in a vehicle or a boat",
        "check the figure and its unit: a length up to 100 m (328 ft 1 in) is read, as `4.9 m`",
    );
    says::<Voltage>(
        "5000 V",
        "`5000 V` is more than any voltage of a 12 V or 24 V installation",
        "check the figure and its unit: a voltage up to 1 kV is read, as `14.4 V`",
    );
    says::<Length>("-3 m", "`-3 m` is negative; a length is never under nothing", "write `3 m`");
    says::<Length>("−3 m", "`−3 m` is negative; a length is never under nothing", "write `3 m`");
    says::<Length>("0 m", "`0 m` is nothing at all", "write what it is, as `4.9 m`, or leave the key out");
    for (text, refuse) in [
        ("500 °C", Temperature::read("500 °C").is_err()),
        ("-100 °C", Temperature::read("-100 °C").is_err()),
        ("0 mΩ", Resistance::read("0 mΩ").is_err()),
        ("0 mm²", CableSize::read("0 mm²").is_err()),
        ("900 mm²", CableSize::read("900 mm²").is_err()),
        ("-4 AWG", CableSize::read("-4 AWG").is_err()),
        ("5/0 AWG", CableSize::read("5/0 AWG").is_err()),
        ("1.5 AWG", CableSize::read("1.5 AWG").is_err()),
        ("40 AWG", CableSize::read("40 AWG").is_err()),
        ("0 A EN", ColdCranking::read("0 A EN").is_err()),
        ("64 kA EN", ColdCranking::read("64 kA EN").is_err()),
        ("0 V", Voltage::read("0 V").is_err()),
        ("M80", Thread::read("M80").is_err()),
        ("90 kAh", Charge::read("90 kAh").is_err()),
    ] {
        assert!(refuse, "{text}");
    }
}

#[test]
fn two_figures_that_do_not_add_up_are_refused() {
    for text in [
        "4 ft 13 in",
        "4.5 ft 6 in",
        "4 ft 6",
        "4 in 6 ft",
        "4 ft 6 in 2 in",
        "4 ft -6 in",
        "4 m 20 cm",
        "4 ft 6 V",
        "4 ft 6 wide",
    ] {
        let (message, remedy) = refused::<Length>(text);
        assert!(remedy.contains("4 ft 6 in") || remedy.contains("4.9 m"), "{text}: {message}: {remedy}");
    }
    assert!(Duration::read("1 h 90 min").is_err());
    assert!(Duration::read("-1 h 30 min").is_err());
}

#[test]
fn a_long_text_is_quoted_short() {
    let (message, _) = refused::<Length>(&"palm tree ".repeat(50));
    assert!(message.chars().count() < 80, "{message}");
}

#[test]
fn the_kind_of_a_text_goes_by_its_unit() {
    assert_eq!(kind_of("15 A"), Some(Kind::Current));
    assert_eq!(kind_of("350 W"), Some(Kind::Power));
    assert_eq!(kind_of("4 ft 6 in"), Some(Kind::Length));
    assert_eq!(kind_of("15"), None);
    assert_eq!(kind_of("15 A 20"), None);
    assert_eq!(kind_of("running"), None);
}

#[test]
fn every_unit_is_read_by_its_own_symbol() {
    for unit in units::UNITS {
        assert_eq!(units::exact(unit.symbol).unwrap().symbol, unit.symbol);
        assert_eq!(units::UNITS.iter().filter(|other| other.symbol == unit.symbol).count(), 1, "{}", unit.symbol);
    }
}

/// Texts made of the pieces that authors and slips of the pen are made of, and of anything.
fn anything() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        Just("1".to_string()),
        Just("0".to_string()),
        Just("99999999999999999999".to_string()),
        Just("/0".to_string()),
        Just("/".to_string()),
        Just(".".to_string()),
        Just(",".to_string()),
        Just("-".to_string()),
        Just("−".to_string()),
        Just("–".to_string()),
        Just(" ".to_string()),
        Just("\u{a0}".to_string()),
        Just("e".to_string()),
        Just("'".to_string()),
        Just("½".to_string()),
        Just("nan".to_string()),
        Just("inf".to_string()),
        Just("to ".to_string()),
        Just("²".to_string()),
        Just("Ω".to_string()),
        Just("AWG".to_string()),
        Just("EN".to_string()),
        Just("M".to_string()),
        Just("İ".to_string()),
        Just("ſ".to_string()),
        proptest::sample::select(units::UNITS.iter().map(|unit| unit.symbol.to_string()).collect::<Vec<_>>()),
        "\\PC{0,3}",
    ];
    prop_oneof![proptest::collection::vec(piece, 0..9).prop_map(|pieces| pieces.concat()), any::<String>()]
}

macro_rules! never_panics {
    ($text:ident, $($name:ident),*) => { $(
        if let Err(fault) = $name::read(&$text) {
            prop_assert!(!fault.message.is_empty() && !fault.remedy.is_empty(), "{:?}", $text);
            prop_assert!(!fault.message.contains('\n'), "{:?}", $text);
        }
    )* };
}

/// A figure within the bounds of a kind, spread evenly over its orders of magnitude.
fn spread(limits: plausible::Plausible) -> impl Strategy<Value = f64> {
    (limits.least.ln()..limits.most.ln()).prop_map(f64::exp)
}

fn at_the_edge(si: f64, limits: plausible::Plausible) -> bool {
    !(limits.least * 1.006..=limits.most * 0.994).contains(&si)
}

macro_rules! comes_back {
    ($($test:ident: $name:ident in $limits:ident),* $(,)?) => { proptest! { $(
        #[test]
        fn $test(si in spread(plausible::$limits)) {
            let shown = $name::from_si(si).show();
            match $name::read(&shown) {
                Ok(back) => prop_assert!((back.si() / si - 1.0).abs() <= 0.0051, "{si} is shown as {shown}"),
                // Rounding may carry a figure at the very edge over it.
                Err(fault) => prop_assert!(at_the_edge(si, plausible::$limits), "{si}: {fault}"),
            }
        }
    )* } };
}

comes_back! {
    a_voltage_shown_is_read_back: Voltage in VOLTAGE,
    a_current_shown_is_read_back: Current in CURRENT,
    a_resistance_shown_is_read_back: Resistance in RESISTANCE,
    a_length_shown_is_read_back: Length in LENGTH,
    an_area_shown_is_read_back: Area in AREA,
    a_time_shown_is_read_back: Duration in DURATION,
    a_mass_shown_is_read_back: Mass in MASS,
    a_power_shown_is_read_back: Power in POWER,
    a_capacity_shown_is_read_back: Charge in CHARGE,
    a_force_shown_is_read_back: Force in FORCE,
    a_ratio_shown_is_read_back: Ratio in RATIO,
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn no_text_makes_reading_panic(text in anything()) {
        never_panics!(text, Voltage, Current, Resistance, Length, Area, Duration, Mass, Power, Charge, Force, Ratio, Temperature, CableSize, ColdCranking, Thread);
        let _ = kind_of(&text);
    }

    #[test]
    fn a_remedy_that_shows_the_authors_figure_can_be_read(whole in 1u32..90, tenths in 0u32..10) {
        // Whatever is offered in place of a text must itself be read.
        for text in [format!("{whole},{tenths} m"), format!("{whole}.{tenths} M"), format!("{whole}.{tenths}"), format!("{whole}·{tenths} metres")] {
            let fault = Length::read(&text).expect_err(&text);
            let offered: Vec<&str> = fault.remedy.split('`').skip(1).step_by(2).collect();
            prop_assert!(!offered.is_empty(), "{text}");
            for way in offered {
                prop_assert!(Length::read(way).is_ok(), "{text}: {way}");
            }
        }
    }

    #[test]
    fn a_temperature_shown_is_read_back(celsius in -60.0..300.0f64) {
        let shown = Temperature::celsius(celsius).show();
        let back = Temperature::read(&shown).unwrap();
        prop_assert!((back.in_celsius() - celsius).abs() <= 0.051, "{shown}");
    }

    #[test]
    fn a_gauge_shown_is_read_back(gauge in -3i8..=24) {
        prop_assert_eq!(CableSize::read(&CableSize::Awg(gauge).show()), Ok(CableSize::Awg(gauge)));
    }
}
