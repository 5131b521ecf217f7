//! What a browser asks, and what it gets. Plain values: the sockets stand elsewhere.

use super::form::save::Fields;

/// What a browser asks.
#[derive(Debug, Clone)]
pub(super) struct Ask {
    /// Whether it changes something.
    pub(super) is_post: bool,
    /// The address, part by part.
    pub(super) path: Vec<String>,
    /// The fields of a form or of the address.
    pub(super) fields: Fields,
    /// A file that was chosen.
    pub(super) file: Option<Vec<u8>>,
    /// The cookie of this desk, if the browser has one.
    pub(super) cookie: Option<String>,
}

/// What it gets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Answer {
    /// Status of HTTP.
    pub(super) status: u16,
    /// Media type of the body.
    pub(super) media: &'static str,
    /// The body.
    pub(super) body: Vec<u8>,
    /// Where to go on.
    pub(super) location: Option<String>,
    /// The cookie that lets this browser in.
    pub(super) cookie: Option<String>,
    /// Name under which a file is kept.
    pub(super) file: Option<String>,
}

impl Answer {
    pub(super) fn html(status: u16, text: String) -> Self {
        Self::bytes(status, "text/html; charset=utf-8", text.into_bytes())
    }

    pub(super) fn bytes(status: u16, media: &'static str, body: Vec<u8>) -> Self {
        Self { status, media, body, location: None, cookie: None, file: None }
    }

    /// Another page comes instead; it is asked for anew.
    pub(super) fn go(to: impl Into<String>) -> Self {
        Self { location: Some(to.into()), ..Self::bytes(303, "text/plain; charset=utf-8", Vec::new()) }
    }
}
