//! The pictures of a document for paper: each drawn once here, so that paper and HTML show the same.

use serde_json::Value;

use super::{drawing, share};
use crate::document::{Block, Document, Figure};

/// Adds to each drawing and figure of the data its picture as SVG, under `svg`; none where nothing is drawn.
pub(super) fn add(document: &Document, data: &mut Value) {
    for (at, block) in document.blocks.iter().enumerate() {
        let data = &mut data["blocks"][at];
        let drawn = |figure: &Figure| share::file(figure, document.right_to_left).into();
        match block {
            Block::EyeSection(eye) => {
                data["section"]["svg"] = drawing::file(&eye.section).into();
                data["shadow"]["svg"] = drawing::file(&eye.shadow).into();
            }
            Block::Figures { items, .. } => {
                items.iter().enumerate().for_each(|(at, figure)| data["items"][at]["svg"] = drawn(figure));
            }
            Block::Ways(ways) => {
                for (row, one) in ways.rows.iter().enumerate() {
                    for (cell, figure) in one.cells.iter().enumerate() {
                        if let Some(figure) = &figure.figure {
                            data["rows"][row]["cells"][cell]["figure"]["svg"] = drawn(figure);
                        }
                    }
                }
            }
            _ => {}
        }
    }
}
