//! The binary as people run it: every command that the README and the guides show, word for word, and wrong input.

#[test]
fn transcripts() {
    trycmd::TestCases::new()
        .case("README.md")
        .case("examples/guide/*.md")
        .case("tests/cli/*.trycmd");
}
