//! Step 6: the pages as blocks. A block knows nothing of paper; the layout lives in `templates/pages/`.
//!
//! Every string here is data. The layout prints it literally and never evaluates it.

pub mod aftercare;
pub mod both_eyes;
mod calendar;
mod card;
pub mod changes;
mod code;
pub mod consent;
mod course;
pub mod coverage;
pub mod desk;
mod doses;
pub(crate) mod drops;
pub mod eye;
mod matrix;
mod page;
pub mod papers;
pub mod part;
pub mod reading;
pub mod sheet;
pub mod source;
pub mod surgeon;
mod visits;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub(crate) use code::VISIT_MINUTES;
pub use doses::{Calendar, CalendarDay, CalendarDrug, CalendarLine, CalendarTime, DoseBox, Sun};
pub use page::Page;

pub use crate::content::inline::{Inline, Inlines};
pub use crate::record::eye::Side;
pub use crate::record::person::Print;
pub use crate::record::profile::Paper;

/// One finished page set (consent, aftercare, surgeon sheet or desk sheet), ready to be laid out.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Document {
    /// Which page set this is.
    pub page: Page,
    /// Id of the document, as its foot says it; empty where nobody keeps it.
    pub id: String,
    /// Revision of the case that its foot calls the version.
    pub revision: u32,
    /// BCP 47 language tag of the text, for example `en-US`.
    pub language: String,
    /// Paper size.
    pub paper: Paper,
    /// Size of print.
    pub print: Print,
    /// Title, printed as the first heading and kept as the title of the file.
    pub title: String,
    /// What stands at the top of every page.
    pub header: Header,
    /// What stands at the foot of every page.
    pub footer: Footer,
    /// The words of its seal; none on pages of the staff.
    pub seal: Option<Seal>,
    /// What stands across the top of every page, for example that all people are invented.
    pub banner: Vec<BannerLine>,
    /// Whether it is a draft that no patient may be given; the banner says so.
    pub draft: bool,
    /// Whether it is the patient's page over again in the clinic's language.
    pub second: bool,
    /// Whether letters that no print font has are shown as a mark, and do not stop the page. The banner says so.
    #[serde(skip)]
    pub marked: bool,
    /// Whether it is told line after line, because its usual form cannot be laid out. Its first paragraph says so.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub in_lines: bool,
    /// Whether its language is written from right to left.
    pub right_to_left: bool,
    /// What stands between a label and what it labels, the space after it left out.
    pub label_end: String,
    /// The content, in reading order. The title is not repeated here.
    pub blocks: Vec<Block>,
}

/// A sentence across the top of every page.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct BannerLine {
    /// BCP 47 tag of its language, which need not be that of the page.
    pub language: String,
    /// The sentence.
    pub text: String,
}

/// The head of every page: two identifiers and the eye.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Header {
    /// Name of the patient.
    pub name: String,
    /// Further identifiers in words: date of birth, record number.
    pub identifiers: String,
    /// The eye in words, for example "Right eye".
    pub eye: String,
    /// The same for the shape and place of its marks.
    pub eyes: Eyes,
}

/// Which eyes a page set is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Eyes {
    /// The right eye.
    Right,
    /// The left eye.
    Left,
    /// Both eyes.
    Both,
}

impl From<Side> for Eyes {
    fn from(side: Side) -> Self {
        match side {
            Side::Right => Self::Right,
            Side::Left => Self::Left,
        }
    }
}

/// The foot of every page.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Footer {
    /// Document id and version, and which version it replaces, in words.
    pub document: String,
    /// Name of the practice.
    pub practice: String,
    /// The word before the page number ("Page").
    pub page: String,
    /// The word between page number and page count ("of").
    pub of: String,
}

/// The words of the code that names what a patient's page set was made from, and of the file that goes along in its PDF.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Seal {
    /// Alternative text of the code.
    pub alt: String,
    /// What the file is.
    pub file: String,
}

/// A block of content.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Block {
    /// A heading. Level 2 is the first below the title.
    Heading {
        /// 2 or 3.
        level: u8,
        /// Its text.
        text: String,
    },
    /// A paragraph.
    Paragraph {
        /// Its text.
        text: Inlines,
    },
    /// The one main message of the page, larger than the body.
    Lead {
        /// Its text.
        text: Inlines,
    },
    /// A list.
    List {
        /// Numbered or not.
        ordered: bool,
        /// The items.
        items: Vec<Inlines>,
    },
    /// Label and value pairs.
    Pairs {
        /// The pairs.
        items: Vec<Pair>,
    },
    /// The warning signs: the most visible thing on the aftercare page.
    Warning {
        /// What it is, as a heading.
        title: String,
        /// The signs.
        signs: Vec<Inlines>,
        /// What to do.
        action: Inlines,
        /// Whom to phone at which hour.
        phones: Vec<Phone>,
    },
    /// One line that says when to phone at once, with the numbers.
    Call {
        /// When.
        text: Inlines,
        /// The numbers, in the order of the phones; empty where the text holds them.
        numbers: Vec<String>,
    },
    /// A boxed notice.
    Notice {
        /// How heavy the box is.
        weight: Weight,
        /// A short title.
        title: String,
        /// Its text.
        text: Inlines,
    },
    /// The ways to choose from in a line each, side by side.
    Choices {
        /// One to a card.
        items: Vec<Inlines>,
    },
    /// The ways to choose from in full: the same questions of each.
    Ways(Ways),
    /// What could go wrong, how often and what then.
    Risks(Risks),
    /// The numbers that decide, each drawn, side by side.
    Figures {
        /// How to read the pictures.
        caption: String,
        /// The pictures, one to three.
        items: Vec<Figure>,
    },
    /// A table with one head row. Rows are never split.
    Table {
        /// What the table is, for screen readers and as a caption.
        caption: String,
        /// Column heads.
        columns: Vec<String>,
        /// Relative widths, one per column.
        widths: Vec<u8>,
        /// Whether the first cell of a row is the head of its row.
        row_heads: bool,
        /// Rows of cells.
        rows: Vec<Vec<Inlines>>,
    },
    /// An appointment the patient must keep.
    Appointment {
        /// What it is.
        title: String,
        /// Weekday, date and time in words.
        when: String,
        /// Where.
        place: String,
        /// What to bring, and why it matters.
        text: Inlines,
    },
    /// The drop calendar: each date once, one box per dose.
    Calendar(Calendar),
    /// The eye seen from the side with the target and its clearances, to scale. Surgeon sheet.
    Clearances(Clearances),
    /// A section of this eye with the laser, and the shadow of its floater.
    EyeSection(eye::EyeSection),
    /// A chart of counts.
    Chart(Chart),
    /// A labelled pair of eyes from the patient's point of view with the treated eye marked.
    Eyes {
        /// `right` or `left`.
        side: String,
        /// "Your right eye".
        right: String,
        /// "Your left eye".
        left: String,
        /// "The laser treats this eye".
        mark: String,
        /// Alternative text.
        alt: String,
    },
    /// Things to tick, each with an optional blank to fill in by hand.
    Checklist {
        /// The items.
        items: Vec<Check>,
    },
    /// A yes/no question the patient answers by hand.
    Choice {
        /// The question.
        question: Inlines,
        /// The answers, each with an empty box.
        options: Vec<String>,
        /// Label of the blank for the initials of who answers.
        blank: String,
    },
    /// A question that the patient answers by one of a row of boxes.
    Scale {
        /// The question.
        question: Inlines,
        /// The boxes by their numbers or words, the lowest first.
        steps: Vec<String>,
        /// What the number of the lowest means; empty where words stand at the boxes.
        lowest: String,
        /// What the number of the highest means.
        highest: String,
    },
    /// Blank ruled lines for handwriting, side by side where there is room.
    Lines {
        /// What is written where.
        items: Vec<Lined>,
    },
    /// The answers to choose from and the sentence that is signed, with the blocks of those who sign. Never split from each
    /// other.
    Signatures {
        /// Heading above it (level 2).
        title: String,
        /// The answers, each with an empty box; none where there is nothing to choose.
        answers: Vec<Inlines>,
        /// The sentence or sentences.
        sentence: Vec<Inlines>,
        /// Who signs.
        signers: Vec<Signer>,
    },
    /// Numbered sources.
    References {
        /// In order of their numbers from 1.
        items: Vec<Inlines>,
    },
    /// A card to cut out and carry: what was done, and which signs mean come the same day.
    Card(Card),
    /// A code for a phone's camera, beside the paragraphs it belongs to.
    Code(Code),
    /// Start a new page here.
    PageBreak,
    /// Start the annex here, on a new page: its pages are counted apart (A1, A2) and its print is the smallest of the page.
    Annex,
    /// Takes no room: the block that follows is the part with this id.
    Mark {
        /// Id of a part.
        id: String,
    },
}

/// A chart of counts: drawn once, the same in a browser and on paper.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Chart {
    /// The picture as SVG, for the inside of a page.
    pub svg: String,
    /// Alternative text.
    pub alt: String,
    /// What it shows, below it.
    pub note: String,
}

/// A share as a picture. From 100 who were counted on: 100 of them, the affected filled. From fewer: a bar from 0 to 100 on
/// which the range is shaded and the share marked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Figure {
    /// What is counted.
    pub title: String,
    /// The number in words: "19 of 36 people", "about 3 in 100 eyes".
    pub number: String,
    /// Affected in 100; none where it is counted in 1,000 or more, and only the number stands.
    pub share: Option<u8>,
    /// Whether fewer than 100 were counted: a bar, not a picture of 100.
    pub small: bool,
    /// What the true share may be, in 100: lower and upper end; none where no count was published.
    pub range: Option<[u8; 2]>,
    /// Whether it is a harm.
    pub harm: bool,
    /// Alternative text with the same number and its other side.
    pub alt: String,
}

/// The ways to choose from as a table: the same questions of each, like beside like.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Ways {
    /// What the table is, and how to read its pictures.
    pub caption: String,
    /// Names of the ways.
    pub names: Vec<String>,
    /// The questions, in order.
    pub rows: Vec<WayRow>,
}

/// A question and what each way answers.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct WayRow {
    /// The question.
    pub head: String,
    /// Whether it asks for harm.
    pub harm: bool,
    /// An answer of each way, in the order of the names.
    pub cells: Vec<WayCell>,
}

/// What one way answers.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct WayCell {
    /// The number that decides, drawn; none where the answer holds none.
    pub figure: Option<Figure>,
    /// Its text.
    pub text: Inlines,
}

/// What could go wrong as a table.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Risks {
    /// What the table is.
    pub caption: String,
    /// Heads of its three columns: what, how often, what then.
    pub heads: [String; 3],
    /// Words beside the mark of a risk that is higher in this eye.
    pub mark: String,
    /// The risks.
    pub rows: Vec<Risk>,
}

/// One risk.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Risk {
    /// What it is.
    pub name: String,
    /// What it is about, as part of the caption where the risks take more than one table.
    pub topic: String,
    /// How often, with the number or that none is known.
    pub often: Inlines,
    /// What it could mean.
    pub then: Inlines,
    /// Why it is higher in this eye, paragraph by paragraph; empty where it is not.
    pub higher: Vec<Inlines>,
}

/// A label with its value.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Pair {
    /// The label.
    pub label: String,
    /// The value.
    pub value: Inlines,
}

/// A phone number with the hours it is for.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Phone {
    /// When: "Monday to Friday, 8:00 AM to 5:00 PM".
    pub hours: String,
    /// Who answers.
    pub who: String,
    /// The number.
    pub number: String,
}

/// How heavy a notice looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Weight {
    /// A thin frame.
    Light,
    /// A thick frame: must be seen.
    Heavy,
}

/// The target in the eye, along the axis, in millimetres from the lens (or pupil plane).
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Clearances {
    /// What the zero of the scale is: "Back of the natural lens", "Lens implant", "Pupil plane".
    pub zero_label: String,
    /// "Retina".
    pub retina_label: String,
    /// Target from zero, mm.
    pub target_mm: f64,
    /// Retina from zero, mm.
    pub retina_mm: f64,
    /// Margin that must stay free in front of the retina, mm.
    pub retina_margin_mm: f64,
    /// Margin that must stay free behind the lens, mm (0 when there is no lens).
    pub lens_margin_mm: f64,
    /// Label of the target, with its distances in words: the drawing prints no number but its scale.
    pub target_label: String,
    /// What the hatched margins are, with their numbers, for the legend.
    pub margin_label: String,
    /// Second foci: position from zero in mm and label.
    pub foci: Vec<Focus>,
    /// Alternative text with all numbers.
    pub alt: String,
}

/// A second focus of an implant.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Focus {
    /// From zero, mm.
    pub at_mm: f64,
    /// What it is.
    pub label: String,
}

/// A card to cut out and fold, for a wallet: no name is printed on it.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Card {
    /// How to use it.
    pub how: Inlines,
    /// What was done, as its title.
    pub title: String,
    /// The eye in words.
    pub eye: String,
    /// The same for the shape of its mark.
    pub eyes: Eyes,
    /// Date, what was done, lens, by whom.
    pub items: Vec<Pair>,
    /// Label of the blank for the name.
    pub name: String,
    /// Title of the signs.
    pub signs_title: String,
    /// The signs.
    pub signs: Inlines,
    /// Whom to phone.
    pub phones: Vec<Phone>,
}

/// A QR code (ISO/IEC 18004) of visits as iCalendar text. It holds all it says: reading it needs no network.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Code {
    /// The paragraphs beside it.
    pub text: Vec<Inlines>,
    /// What it is for.
    pub hint: String,
    /// Alternative text.
    pub alt: String,
    /// Modules along each side, without the margin of 4 on each.
    pub side: usize,
    /// Outline of the dark modules, as the data of an SVG path in modules.
    pub path: String,
}

/// Something to tick.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Check {
    /// What.
    pub text: Inlines,
    /// Blanks to fill in by hand, each with its label ("Initials", "Time").
    pub blanks: Vec<String>,
}

/// Room for a few words by hand.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Lined {
    /// Id of the part this is; empty where it is none.
    pub mark: String,
    /// What to write there.
    pub label: String,
    /// How many lines.
    pub count: u8,
}

/// One who signs.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Signer {
    /// Id of the part this is.
    pub mark: String,
    /// Role and what the signature means.
    pub role: String,
    /// Blanks, never filled in by the program: "Signature", "Printed name", "Date", "Time".
    pub blanks: Vec<String>,
}
