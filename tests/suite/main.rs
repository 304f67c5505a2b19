//! Every integration test, in one binary.

mod reading;
