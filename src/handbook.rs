//! Tables and their sources: the one module through which every published figure is looked up.
//!
//! Knows quantities, and nothing of guides. The tables are data files in `handbook/tables/`, each row
//! with the id of its source and how sure it is; single limits are functions in [`limits`]. An id leads to
//! [`sources`], where the document, its edition and its scope are printed once.
//!
//! * [`conductors`]: resistance, allowable current and their temperature factors.
//! * [`heat`]: what a conductor stands for a short time.
//! * [`battery`]: open-circuit voltages, cold-cranking figures, their temperature factor.
//! * [`protectors`]: opening times and breaking capacity by published class.
//! * [`gas`]: hydrogen, airflow, openings.
//! * [`restraint`]: pulls, decelerations, bolts.
//! * [`ends`]: lugs, crimps, torque, supports, least sizes.
//! * [`limits`]: every limit of ordinary running and protection.

pub mod battery;
pub mod conductors;
pub mod ends;
pub mod gas;
pub mod heat;
pub mod limits;
pub mod protectors;
pub mod restraint;
pub mod sources;

pub use limits::Limit;
pub use sources::{Certainty, Source};

/// The handbook's edition. It enters the digest of every guide, so that a changed figure is seen as a change:
/// raise it whenever a table, a limit or a formula in this module changes what a guide's numbers come to.
pub const VERSION: &str = "1";

/// Reads a data file that was built into the program. The files are fixed when the program is compiled, and a
/// test reads each of them, so a row that cannot be read never leaves this house.
pub(crate) fn rows<T: serde::de::DeserializeOwned>(file: &'static str, text: &'static str) -> Vec<T> {
    csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .map(|row| row.unwrap_or_else(|fault| panic!("handbook table {file}: {fault}")))
        .collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::quantity::{CableSize, Current, Temperature, Thread};

    const TABLES: &[(&str, &str)] = &[
        ("allowable-current", include_str!("handbook/tables/allowable-current.csv")),
        ("bolt-grades", include_str!("handbook/tables/bolt-grades.csv")),
        ("bolts", include_str!("handbook/tables/bolts.csv")),
        ("breaking-capacity", include_str!("handbook/tables/breaking-capacity.csv")),
        ("bundles", include_str!("handbook/tables/bundles.csv")),
        ("crimp-pull", include_str!("handbook/tables/crimp-pull.csv")),
        ("deceleration", include_str!("handbook/tables/deceleration.csv")),
        ("engine-space", include_str!("handbook/tables/engine-space.csv")),
        ("gas-current", include_str!("handbook/tables/gas-current.csv")),
        ("metric-copper", include_str!("handbook/tables/metric-copper.csv")),
        ("opening-gates", include_str!("handbook/tables/opening-gates.csv")),
        ("torque", include_str!("handbook/tables/torque.csv")),
    ];

    #[test]
    fn every_row_names_a_listed_source_and_no_surer_than_it() {
        for (name, text) in TABLES {
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            let headers = reader.headers().unwrap().clone();
            let column = |wanted: &str| headers.iter().position(|h| h == wanted).expect(name);
            let (certainty, source) = (column("certainty"), column("source"));
            let mut count = 0;
            for row in reader.records() {
                let row = row.unwrap_or_else(|fault| panic!("{name}: {fault}"));
                let listed = sources::find(&row[source]).unwrap_or_else(|| panic!("{name}: {row:?}"));
                let listed = serde_json::to_value(listed.certainty).unwrap();
                assert_eq!(listed, row[certainty], "{name}: {row:?}");
                count += 1;
            }
            assert!(count > 2, "{name} is all but empty");
        }
    }

    #[test]
    fn every_data_file_is_read_by_the_test_above() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/handbook/tables");
        let there: BTreeSet<String> =
            std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap()).collect();
        let read: BTreeSet<String> = TABLES.iter().map(|(name, _)| format!("{name}.csv")).collect();
        assert_eq!(there, read);
    }

    #[test]
    fn every_table_loads() {
        let amps = conductors::allowable_current_30(
            CableSize::Metric(70.0),
            Temperature::celsius(105.0),
            conductors::ConductorMetal::Copper,
        );
        assert_eq!(amps, Some(Current::amps(330.0)));
        assert!(conductors::resistance_20(CableSize::Metric(70.0), conductors::ConductorMetal::Copper).is_some());
        assert_eq!(conductors::engine_space_factor(Temperature::celsius(105.0)), (0.85, Certainty::Verified));
        assert_eq!(conductors::bundle_factor(5), 0.6);
        for form in protectors::forms() {
            let found = [10.0, 40.0, 80.0, 200.0].iter().any(|a| protectors::gates(form, Current::amps(*a)).is_some());
            assert!(found, "{form}");
        }
        assert!(protectors::code_breaking_capacity(Current::amps(650.0)).is_some());
        for cell in [gas::GasCell::VentedLead, gas::GasCell::ValveRegulatedLead, gas::GasCell::VentedNickelCadmium] {
            assert!(gas::gas_current(cell, gas::Stage::Float) < gas::gas_current(cell, gas::Stage::Boost));
        }
        assert_eq!(restraint::decelerations().len(), 24);
        for grade in restraint::bolt_grades() {
            assert!(restraint::bolt_proof_load(Thread(8.0), grade).is_some());
        }
        assert!(ends::crimp_pull("ul-486a", CableSize::Metric(50.0)).is_some());
        assert_eq!(ends::torques().len(), 10);
    }

    /// A changed table is a changed verdict: who changes one raises [`VERSION`] and writes the new digest here.
    #[test]
    fn a_changed_table_raises_the_version() {
        use sha2::{Digest, Sha256};
        let mut hasher = Sha256::new();
        for (name, text) in TABLES {
            hasher.update(name.as_bytes());
            hasher.update(text.replace("\r\n", "\n").as_bytes());
        }
        let digest: String = hasher.finalize().iter().take(8).map(|byte| format!("{byte:02x}")).collect();
        assert_eq!((VERSION, digest.as_str()), ("1", "4f57825b3d734db2"));
    }

    #[test]
    fn source_ids_are_kebab_case_and_unique() {
        let mut seen = BTreeSet::new();
        for source in sources::ALL {
            assert!(
                source.id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
                "{}",
                source.id
            );
            assert!(seen.insert(source.id), "{} stands twice", source.id);
            assert!(!source.title.is_empty() && !source.title.ends_with('.'), "{}", source.id);
        }
    }
}
