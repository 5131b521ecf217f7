//! The one integration binary: each test binary links all of typst again.

mod architecture;
mod both_eyes;
mod catalogue;
mod cli;
mod consent;
mod demo;
mod drugs_of_a_case;
mod invalid;
mod languages;
mod outside;
mod packets;
mod plain;
mod published_drug_rules;
mod rules;
mod samples;
mod schedule;
mod three_views;
mod wording;
