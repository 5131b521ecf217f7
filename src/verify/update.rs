//! What was appended to a PDF: whether it puts something else in the place of what the pages are drawn from, and what it
//! lays over them. A signature brings a field and leaves the drawing alone (ISO 32000-1, 7.5.6 and 12.8).

use std::collections::BTreeSet;

use lopdf::{Dictionary, Document, Object, ObjectId};

/// What an update may change of a page without changing how it is drawn.
const BESIDE: [&[u8]; 2] = [b"Annots", b"Tabs"];

/// Whether an update changes anything that was there but its frame: the catalog, the information and metadata of the file,
/// and which notes lie over a page.
pub(super) fn redraws(before: &Document, after: &Document) -> bool {
    let pages: BTreeSet<ObjectId> = before.page_iter().collect();
    let frame = frame(before);
    let same = |id: &ObjectId, object: &Object| match after.objects.get(id) {
        Some(now) if pages.contains(id) => drawn(object) == drawn(now),
        Some(now) => now == object,
        None => false,
    };
    let same_pages = before.page_iter().eq(after.page_iter());
    !same_pages
        || tree(before).is_none_or(|tree| Some(tree) != self::tree(after))
        || before.objects.iter().any(|(id, object)| !frame.contains(id) && !is_of_the_file(object) && !same(id, object))
}

/// A page without what lies over it.
fn drawn(page: &Object) -> Option<Dictionary> {
    let mut page = page.as_dict().ok()?.clone();
    BESIDE.iter().for_each(|key| _ = page.remove(key));
    Some(page)
}

fn tree(pdf: &Document) -> Option<ObjectId> {
    pdf.catalog().ok()?.get(b"Pages").ok()?.as_reference().ok()
}

/// What an update always writes anew.
fn frame(pdf: &Document) -> BTreeSet<ObjectId> {
    let of_trailer = [b"Root".as_slice(), b"Info"].into_iter().filter_map(|key| pdf.trailer.get(key).ok());
    let metadata = pdf.catalog().ok().and_then(|catalog| catalog.get(b"Metadata").ok());
    of_trailer.chain(metadata).filter_map(|object| object.as_reference().ok()).collect()
}

/// Tables of the file itself: each part that is appended has its own.
fn is_of_the_file(object: &Object) -> bool {
    let kind = object.as_stream().ok().and_then(|stream| stream.dict.get(b"Type").ok());
    kind.and_then(|kind| kind.as_name().ok()).is_some_and(|kind| matches!(kind, b"XRef" | b"ObjStm"))
}

/// How many fields and notes with an extent lie over the pages after it and did not before.
pub(super) fn over_pages(before: &Document, after: &Document) -> usize {
    count(after).saturating_sub(count(before))
}

fn count(pdf: &Document) -> usize {
    let notes = pdf.page_iter().filter_map(|page| pdf.get_dictionary(page).ok()).filter_map(|page| {
        let notes = page.get_deref(b"Annots", pdf).ok()?.as_array().ok()?;
        Some(notes.iter().filter(|note| has_extent(pdf, note)).count())
    });
    notes.sum()
}

fn has_extent(pdf: &Document, note: &Object) -> bool {
    let corners = || {
        let note = pdf.dereference(note).ok()?.1.as_dict().ok()?;
        let corners = note.get_deref(b"Rect", pdf).ok()?.as_array().ok()?;
        corners.iter().map(|corner| corner.as_float().ok()).collect::<Option<Vec<f32>>>()
    };
    match corners().as_deref() {
        Some([left, bottom, right, top]) => left != right && bottom != top,
        _ => true, // who hides its place may cover anything
    }
}
