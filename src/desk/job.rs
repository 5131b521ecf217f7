//! A print job: finished page sets in one file, each as often as it is wanted. What makes a page set readable without paper
//! (its tags, links, attached files and the claim to PDF/UA) is lost in it; the page sets by themselves keep that.

use lopdf::{Dictionary, Document, Object, ObjectId, dictionary};

/// A finished page set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct PageSet {
    /// A PDF.
    pub(super) bytes: Vec<u8>,
    /// How often it is printed.
    pub(super) copies: u32,
}

/// What a page may have from those above it in the tree of pages.
const INHERITED: [&[u8]; 4] = [b"Resources", b"MediaBox", b"CropBox", b"Rotate"];

/// What a page has that leads out of it.
const LEADS_OUT: [&[u8]; 4] = [b"Annots", b"StructParents", b"Tabs", b"AF"];

/// Joins page sets in their order.
///
/// # Errors
/// A page set that is no PDF.
pub(super) fn join(sets: &[PageSet]) -> Result<Vec<u8>, lopdf::Error> {
    let mut job = Document::with_version("1.7");
    let tree = job.new_object_id();
    let mut kids: Vec<Object> = Vec::new();
    for set in sets {
        let mut one = Document::load_mem(&set.bytes)?;
        one.renumber_objects_with(job.max_id + 1);
        let pages = one.page_iter().map(|id| page(&one, id)).collect::<Result<Vec<_>, _>>()?;
        job.max_id = one.max_id;
        job.objects.append(&mut one.objects);
        for page in (0..set.copies).flat_map(|_| &pages) {
            let mut page = page.clone();
            page.set("Parent", tree);
            kids.push(job.add_object(page).into());
        }
    }
    let count = i64::try_from(kids.len()).unwrap_or_default();
    job.set_object(tree, dictionary! { "Type" => "Pages", "Count" => count, "Kids" => kids });
    let catalog = job.add_object(dictionary! { "Type" => "Catalog", "Pages" => tree });
    job.trailer.set("Root", catalog);
    job.prune_objects();
    let mut bytes = Vec::new();
    job.save_to(&mut bytes)?;
    Ok(bytes)
}

/// A page that stands for itself.
fn page(document: &Document, id: ObjectId) -> Result<Dictionary, lopdf::Error> {
    let mut page = document.get_dictionary(id)?.clone();
    let mut above = page.get(b"Parent").and_then(Object::as_reference);
    while let Ok(node) = above.and_then(|id| document.get_dictionary(id)) {
        for key in INHERITED {
            if let (false, Ok(value)) = (page.has(key), node.get(key)) {
                page.set(key, value.clone());
            }
        }
        above = node.get(b"Parent").and_then(Object::as_reference);
    }
    for key in LEADS_OUT {
        page.remove(key);
    }
    Ok(page)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A PDF of so many pages, whose size stands above them.
    fn pdf(pages: usize, width: i64) -> Vec<u8> {
        let mut document = Document::with_version("1.7");
        let tree = document.new_object_id();
        let kids: Vec<Object> = (0..pages)
            .map(|_| {
                document.add_object(dictionary! { "Type" => "Page", "Parent" => tree, "StructParents" => 0 }).into()
            })
            .collect();
        let size: Vec<Object> = vec![0.into(), 0.into(), width.into(), 800.into()];
        let count = i64::try_from(pages).unwrap();
        document
            .set_object(tree, dictionary! { "Type" => "Pages", "Count" => count, "Kids" => kids, "MediaBox" => size });
        let catalog = document.add_object(dictionary! { "Type" => "Catalog", "Pages" => tree });
        document.trailer.set("Root", catalog);
        let mut bytes = Vec::new();
        document.save_to(&mut bytes).unwrap();
        bytes
    }

    #[test]
    fn page_sets_are_joined_in_their_order_and_as_often_as_wanted() {
        let sets = [
            PageSet { bytes: pdf(2, 500), copies: 2 },
            PageSet { bytes: pdf(1, 400), copies: 1 },
            PageSet { bytes: pdf(3, 300), copies: 0 },
        ];
        let job = Document::load_mem(&join(&sets).unwrap()).unwrap();
        let width = |id| {
            let page = job.get_dictionary(id).unwrap();
            assert!(!page.has(b"StructParents"));
            page.get(b"MediaBox").unwrap().as_array().unwrap()[2].as_i64().unwrap()
        };
        assert_eq!(job.page_iter().map(width).collect::<Vec<_>>(), [500, 500, 500, 500, 400]);
    }

    #[test]
    fn what_is_no_pdf_is_refused() {
        assert!(join(&[PageSet { bytes: b"BEGIN:VCALENDAR".to_vec(), copies: 1 }]).is_err());
    }
}
