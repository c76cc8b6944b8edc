//! The binary as people run it: every command that the README shows, word for word, and wrong input.

#[test]
fn transcripts() {
    trycmd::TestCases::new().case("README.md").case("tests/cli/*.trycmd");
}
