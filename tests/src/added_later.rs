//! What page 1 says where something was added after the visit's end. In: a page that says it. Out: the page as it was before.

/// Cuts the sentence out of page 1, above what to do.
///
/// # Panics
/// When it is not there.
#[track_caller]
pub fn cut_from_page_1(page: &str) -> String {
    let (answer, rest) = page
        .split_once("<h2>What to do</h2>")
        .expect("page 1 says what to do");
    let (answer, said) = answer
        .rsplit_once("<p class=\"flag\">")
        .expect("a sentence above it");
    assert!(
        said.contains("added after the visit was finished"),
        "{said}"
    );
    format!("{answer}<h2>What to do</h2>{rest}")
}
