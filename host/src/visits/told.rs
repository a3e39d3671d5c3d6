//! What a gauge tells of again and again, and a book keeps once. In: what is known, what is told. Out: each event, with the
//! earliest day it is known of.

/// Something that happened to a gauge.
pub trait Told: Clone {
    /// Both tell of one event.
    fn is_same(&self, other: &Self) -> bool;
    /// The day a book knows it by. Days written year first are in the order of their text.
    fn day(&mut self) -> &mut String;
}

/// Several heads of a gauge's entry as one: of each event the earliest that is known.
pub fn union<'h, T: Told + 'h>(heads: impl Iterator<Item = &'h T>) -> Vec<T> {
    let mut all: Vec<T> = Vec::new();
    for mut event in heads.cloned() {
        match all.iter_mut().find(|known| known.is_same(&event)) {
            Some(known) => {
                let earlier = std::mem::take(event.day());
                if earlier < *known.day() {
                    *known.day() = earlier;
                }
            }
            None => all.push(event),
        }
    }
    all
}

/// What is known after it was told: what is new comes last.
pub fn add<T: Told>(known: &[T], told: impl Iterator<Item = T>) -> Vec<T> {
    let new = told.filter(|told| !known.iter().any(|known| known.is_same(told)));
    known.iter().cloned().chain(new).collect()
}
