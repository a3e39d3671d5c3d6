//! A scene as a test looks at it. In: a scene and the size of a terminal. Out: its letters, line by line.

use holdtrue_screen::{Ability, Scene, draw};
use ratatui_core::buffer::Cell;
use ratatui_core::layout::Rect;

/// The letters of a scene, without the blanks at the ends of its lines.
pub(crate) fn text(scene: &Scene, columns: u16, rows: u16, ability: Ability) -> String {
    let buffer = draw(scene, Rect::new(0, 0, columns, rows), ability);
    let rows = buffer.content.chunks(usize::from(columns));
    let line = |cells: &[Cell]| -> String {
        let line: String = cells.iter().map(Cell::symbol).collect();
        line.trim_end().to_owned()
    };
    rows.map(line).collect::<Vec<_>>().join("\n")
}
