//! Why a page set cannot be printed. Nothing here repeats a text of the record: it may be private.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Why a page set cannot be printed.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Serialize, Deserialize)]
#[non_exhaustive]
pub enum RenderError {
    /// The patient's name holds a character that no print font has.
    #[error(
        "the patient's name holds {}, which no print font has: write the name in Latin letters as \
         patient.latin_name in the record, or put a font with that script into fonts/ of the practice",
        code_point(*.0)
    )]
    Name(char),
    /// Another text of the page holds a character that no print font has.
    #[error(
        "the print font has no shape for the character {}; write the text that holds it in Latin \
         letters, or put a font with that script into fonts/ of the practice",
        code_point(*.0)
    )]
    Glyph(char),
    /// The layout stops or warns: an unknown font is only a warning there, and a failure here.
    #[error("{}", lines(.0))]
    Layout(Vec<Stop>),
    /// Text would stand where it cannot be read.
    #[error(
        "on page {page}, {right:.0} mm from the left and {down:.0} mm from the top, text {fault}: \
         shorten what stands there; until then `--as html` or `--as text` makes the page"
    )]
    Geometry {
        /// Number of the page, from 1.
        page: usize,
        /// Place of the text from the left edge of the paper, mm.
        right: f64,
        /// Place of the text from the upper edge of the paper, mm.
        down: f64,
        /// What is wrong with the text.
        fault: Fault,
    },
    /// The file would break PDF/UA-1 or PDF/A-3a.
    #[error("{}", lines(.0))]
    Export(Vec<Stop>),
    /// Layout files of the practice's own exceed a limit.
    #[error("{}: {why}; mend the layout or take it away", files.join(", "))]
    Apart {
        /// The files.
        files: Vec<String>,
        /// What they exceed.
        why: Exceeded,
    },
    /// A file cannot carry the date of issue.
    #[error("the page cannot carry this date of issue")]
    Date,
}

/// What ends the layout of files of a practice's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Exceeded {
    /// It takes too long.
    Time,
    /// It takes too much memory.
    Memory,
    /// It ends by itself without an answer, or cannot be started.
    Failed,
}

impl Exceeded {
    /// How the process apart ends, as its exit code.
    #[must_use]
    pub fn code(self) -> i32 {
        match self {
            Self::Failed => 2,
            Self::Time => 3,
            Self::Memory => 4,
        }
    }
}

impl fmt::Display for Exceeded {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(match self {
            Self::Time => "laying out the page takes too long",
            Self::Memory => "laying out the page takes too much memory",
            Self::Failed => "the page cannot be laid out",
        })
    }
}

/// What is wrong with a text that cannot be read where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fault {
    /// It leaves the paper, or is cut off.
    LeavesItsPlace,
    /// It stands on other text.
    OnText,
    /// It stands on a line.
    OnLine,
}

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(match self {
            Self::LeavesItsPlace => "leaves its place",
            Self::OnText => "stands on other text",
            Self::OnLine => "stands on a line",
        })
    }
}

/// Where the layout stops, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stop {
    /// File and line, where the layout names them.
    pub place: Option<(String, usize)>,
    /// The message. A layout of the practice's own might put text of the case into it, so it has none then.
    pub message: Option<String>,
}

impl fmt::Display for Stop {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match &self.place {
            Some((file, line)) => write!(out, "{file}:{line}: ")?,
            None => out.write_str("layout: ")?,
        }
        out.write_str(self.message.as_deref().unwrap_or("the layout stops here"))
    }
}

fn lines(stops: &[Stop]) -> String {
    stops.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

fn code_point(character: char) -> String {
    format!("U+{:04X}", u32::from(character))
}
