//! The one integration binary: each test binary links all of typst again. Without the typesetter the tests of the steps run.

#[cfg(feature = "typeset")]
mod aftercare_pages;
mod architecture;
#[cfg(feature = "typeset")]
mod batch;
mod both_eyes;
mod catalogue;
#[cfg(feature = "typeset")]
mod cli;
mod consent;
#[cfg(feature = "typeset")]
mod consent_pages;
mod dangers;
#[cfg(feature = "typeset")]
mod demo;
#[cfg(feature = "desk")]
mod desk;
mod drafts;
mod drugs_of_a_case;
mod exchange;
mod eye_section;
mod facts_kept;
mod fair_numbers;
mod form;
mod in_lines;
mod invalid;
mod languages;
mod limits;
#[cfg(feature = "typeset")]
mod new;
#[cfg(feature = "register")]
mod outcomes;
mod outputs;
#[cfg(feature = "typeset")]
mod outside;
mod packets;
mod papers;
mod plain;
mod private;
mod published_drug_rules;
#[cfg(feature = "register")]
mod register;
mod results;
mod rules;
#[cfg(feature = "typeset")]
mod samples;
mod schedule;
mod three_views;
#[cfg(feature = "desk")]
mod verify;
mod wording;
