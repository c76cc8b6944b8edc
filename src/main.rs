//! The command line of `coldbasin`.
fn main() {}
