use super::*;

#[test]
fn ids_are_unique_and_listed() {
    let mut ids = IDS.to_vec();
    assert_eq!(IDS.len(), catalogue::ALL.len(), "every caution has its id in the list");
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), IDS.len(), "ids are unique");
    assert!(IDS.iter().all(|id| id.chars().all(|c| c.is_ascii_lowercase() || c == '-')));
}

#[test]
fn every_source_named_is_in_the_handbook() {
    let files = [include_str!("catalogue.rs"), include_str!("defer.rs")].join("\n");
    let mut named = 0;
    for list in files.split("&[\"").skip(1) {
        for id in list.split(']').next().unwrap_or("").split(',') {
            let id = id.trim().trim_matches('"');
            if !id.is_empty() && !IDS.contains(&id) {
                assert!(crate::handbook::sources::find(id).is_some(), "no source `{id}`");
                named += 1;
            }
        }
    }
    assert!(20 < named, "the test reads the lists it means to read");
}
