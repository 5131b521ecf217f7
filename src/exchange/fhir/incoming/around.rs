//! By which tables, for which practice and eye files are read.

use chrono::NaiveDate;

use super::resources::Resource;
use super::tables::Tables;
use crate::practice::Practice;
use crate::record::eye::Side;
use crate::record::formulary::Formulary;

/// How files are read: by which tables, for which practice and eye.
#[derive(Debug, Clone, Copy)]
pub struct Reader<'a> {
    /// What codes mean.
    pub tables: &'a Tables,
    /// Names of medicines and drops.
    pub formulary: &'a Formulary,
    /// The practice, if one is chosen: the draft then also fits its languages, surgeons and time zone.
    pub practice: Option<&'a Practice>,
    /// The eye that is treated, if it is chosen.
    pub side: Option<Side>,
    /// The day of reading.
    pub today: NaiveDate,
}

/// What the readers of single resources share.
#[derive(Clone, Copy)]
pub(super) struct Around<'a, 'v> {
    pub(super) reader: &'a Reader<'a>,
    /// All resources of the files.
    pub(super) all: &'a [Resource<'v>],
}
