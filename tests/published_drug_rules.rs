//! The drug rules that published labels and papers call for, carried over one by one, and what the program makes of
//! them.
//!
//! `a label of FDA, MHRA or EMA` = the text was read in a copy that names the product; `from memory` = not seen. Levels
//! are the heaviest that any of the label families gives, read as this program reads them: listed contraindication =
//! `stop`, texts that contradict each other or say do not use elsewhere = `ask`, warning = `caution`.

use std::collections::BTreeMap;

use vitreoleaf::assets::Assets;
use vitreoleaf::findings::{Level, Rules};
use vitreoleaf::record::profile::Labels;

/// Number of the rule; its heaviest level by the US label, by EU and UK texts, and with our own choice; drugs; where it
/// is published.
///
/// Where a text is of two minds, read so: R06 a paced heart block is exempt in the EU only, so it asks in the US; R19
/// "not recommended" (US) asks; R42, R42b, R43 and R44 a leaflet or monograph says do not use, R48 and R52 some
/// European texts of the class list it: they ask; R67, R69 and R70 an older text lists them for the weak strength,
/// which asks until the newer one is read; R55 an ulcer stops where one text lists it. Our own choice is stricter than
/// a label in R10 (with heart failure), R16 and R17 (severe reactions), R36, R66 (US), and in R51 and R52, which ask.
/// R78, "not recorded: caution", is no row: what is not recorded asks where its rule can stop;
/// `every_case_comes_out_as_written` checks that.
#[rustfmt::skip]
const PUBLISHED: &[(&str, [&str; 3], &str, &str)] = &[
    ("R01", ["stop", "stop", "stop"], "beta-blockers", "US label (FDA), dorzolamide and timolol; PubMed 27161880"),
    ("R02", ["stop", "stop", "stop"], "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R03", ["caution", "caution", "caution"], "beta-blockers", "common EU product information, dorzolamide and timolol, 2024"),
    ("R04", ["stop", "stop", "stop"], "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R05", ["stop", "stop", "stop"], "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R06", ["ask", "caution", "ask"], "beta-blockers", "US labels (FDA), timolol; common EU product information, latanoprost and timolol, 2024"),
    ("R07", ["stop", "stop", "stop"], "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R08", ["caution", "caution", "caution"], "beta-blockers", "US label (FDA), dorzolamide and timolol; common EU product information, dorzolamide and timolol, 2024"),
    ("R09", ["caution", "caution", "caution"], "beta-blockers", "UK product information (MHRA), timolol; secondary US drug reference, timolol"),
    ("R10", ["caution", "caution", "stop"], "beta-blockers", "secondary US drug reference, timolol; a label of FDA, MHRA or EMA"),
    ("R11", ["caution", "caution", "caution"], "beta-blockers", "secondary US drug reference, timolol; a label of FDA, MHRA or EMA"),
    ("R12", ["caution", "caution", "caution"], "beta-blockers", "secondary US drug reference, timolol; a label of FDA, MHRA or EMA"),
    ("R13", ["caution", "caution", "caution"], "beta-blockers", "US label (FDA), timolol"),
    ("R14", ["caution", "caution", "caution"], "beta-blockers", "US label (FDA), timolol"),
    ("R15", ["caution", "caution", "caution"], "beta-blockers", "UK product information (MHRA), timolol"),
    ("R16", ["caution", "stop", "stop"], "brinzolamide", "US label (FDA), brinzolamide; EU patient leaflets (EMA; AIFA, Italy), brinzolamide"),
    ("R17", ["caution", "caution", "stop"], "dorzolamide, dorzolamide and timolol", "US label (FDA), dorzolamide and timolol; US label (FDA), dorzolamide"),
    ("R18", ["stop", "stop", "stop"], "acetazolamide", "UK product information (MHRA), acetazolamide, 2015 and 2018; US label (FDA), acetazolamide tablets, March 28, 2025"),
    ("R19", ["ask", "stop", "stop"], "carbonic anhydrase inhibitor drops", "product information (AIFA, Italy), dorzolamide; EU product information (EMA), brinzolamide, 2021; US drug monograph, dorzolamide and timolol"),
    ("R20", ["stop", "stop", "stop"], "acetazolamide", "UK patient leaflets (MHRA), acetazolamide tablets; a label of FDA, MHRA or EMA"),
    ("R21", ["caution", "caution", "caution"], "alpha agonists", "US label (FDA), apraclonidine 0.5%; UK product information (MHRA), brimonidine"),
    ("R22", ["caution", "caution", "caution"], "carbonic anhydrase inhibitor drops, or acetazolamide + carbonic anhydrase inhibitor drops in the same plan", "German summary of contraindications, dorzolamide and timolol; US label (FDA), brinzolamide, older"),
    ("R23", ["caution", "caution", "caution"], "acetazolamide", "US label (FDA), acetazolamide tablets"),
    ("R24", ["caution", "caution", "caution"], "acetazolamide (and carbonic anhydrase inhibitor drops)", "US label (FDA), acetazolamide tablets"),
    ("R25", ["stop", "stop", "stop"], "acetazolamide", "UK patient leaflets (MHRA), acetazolamide tablets"),
    ("R26", ["caution", "caution", "caution"], "acetazolamide", "UK monograph, acetazolamide modified release"),
    ("R27", ["caution", "caution", "caution"], "acetazolamide", "US label (FDA), acetazolamide tablets"),
    ("R28", ["stop", "stop", "stop"], "any benzalkonium product", "US label (FDA), dorzolamide and timolol; US label (FDA), dorzolamide; Hong Kong product information, latanoprost"),
    ("R29", ["caution", "caution", "caution"], "any benzalkonium product", "US label (FDA), dorzolamide and timolol; EMA questions and answers on benzalkonium"),
    ("R30", ["caution", "caution", "caution"], "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA"),
    ("R31", ["stop", "stop", "stop"], "apraclonidine", "US label (FDA), apraclonidine 1%"),
    ("R32", ["ask", "stop", "stop"], "brimonidine", "UK product information (MHRA), brimonidine; US labels (FDA), brimonidine 0.2%, older; product information (AIFA, Italy), brimonidine"),
    ("R33", ["caution", "stop", "stop"], "phenylephrine", "UK product information (MHRA), phenylephrine 10%; the same, 2.5%, older copy"),
    ("R34", ["caution", "stop", "stop"], "brimonidine, apraclonidine 0.5%", "UK product information (MHRA), brimonidine; a label of FDA, MHRA or EMA"),
    ("R35", ["stop", "stop", "stop"], "apraclonidine", "US label (FDA), apraclonidine 0.5%; US label (FDA), apraclonidine 1%"),
    ("R36", ["note", "note", "caution"], "brimonidine", "US monograph, brimonidine (with apraclonidine); class judgement"),
    ("R37", ["caution", "stop", "stop"], "apraclonidine", "UK monograph, apraclonidine 1%; a label of FDA, MHRA or EMA"),
    ("R38", ["caution", "caution", "caution"], "alpha agonists", "US label (FDA), brimonidine; US label (FDA), apraclonidine 0.5%"),
    ("R39", ["caution", "caution", "caution"], "apraclonidine", "US label (FDA), apraclonidine 0.5%"),
    ("R40", ["stop", "stop", "stop"], "brimonidine", "US label (FDA), brimonidine"),
    ("R41", ["caution", "stop", "stop"], "apraclonidine (UK), nepafenac, bromfenac, ketorolac, diclofenac, brinzolamide, prednisolone, loteprednol, rimexolone", "a label of FDA, MHRA or EMA; EU product information (EMA), nepafenac 1 mg/mL"),
    ("R42", ["caution", "ask", "ask"], "brimonidine, apraclonidine", "UK patient leaflet (MHRA), brimonidine; US label (FDA), apraclonidine 0.5%; UK monograph, apraclonidine 0.5%"),
    ("R42b", ["caution", "ask", "ask"], "apraclonidine 0.5%", "UK monograph, apraclonidine 0.5%; UK monograph, apraclonidine 1%"),
    ("R43", ["caution", "ask", "ask"], "dorzolamide and timolol (caution for beta-blockers or carbonic anhydrase inhibitor drops alone)", "German summary of contraindications, dorzolamide and timolol; US label (FDA), timolol"),
    ("R44", ["caution", "ask", "ask"], "acetazolamide", "UK monograph, acetazolamide modified release; product information (Singapore), acetazolamide tablets, 2023"),
    ("R45", ["caution", "caution", "caution"], "anti-inflammatory drops without steroid", "US label (FDA), bromfenac"),
    ("R46", ["caution", "caution", "caution"], "steroids, brimonidine (pregnancy), latanoprost, dilating drops", "US label (FDA), prednisolone acetate 1%; UK monographs, apraclonidine 0.5% and brimonidine; UK product information (MHRA), tropicamide"),
    ("R47", ["stop", "stop", "stop"], "steroids", "US label (FDA), prednisolone acetate 1%; US label (FDA), loteprednol 0.5%; secondary drug reference, rimexolone"),
    ("R48", ["caution", "ask", "ask"], "steroids", "US label (FDA), prednisolone acetate 1%; UK patient leaflet (MHRA), prednisolone acetate 1%; PubMed 10584428"),
    ("R49", ["stop", "stop", "stop"], "steroids, latanoprost", "US label (FDA), prednisolone acetate 1%; Hong Kong product information, latanoprost"),
    ("R50", ["caution", "ask", "ask"], "prostaglandins", "common EU product information, latanoprost, 2022; Hong Kong product information, latanoprost"),
    ("R51", ["caution", "caution", "ask"], "steroids (worst: dexamethasone, prednisolone)", "review of steroid-induced glaucoma; Arch Ophthalmol 1967;77:593"),
    ("R52", ["caution", "ask", "ask"], "steroids", "US label (FDA), prednisolone acetate 1%; a label of FDA, MHRA or EMA; Swiss patient leaflet, dexamethasone without preservative"),
    ("R53", ["caution", "caution", "caution"], "steroids", "US label (FDA), prednisolone acetate 1%"),
    ("R54", ["caution", "caution", "caution"], "steroids, 10 days or longer", "US label (FDA), prednisolone acetate 1%; secondary drug reference, rimexolone"),
    ("R55", ["caution", "stop", "stop"], "steroids, anti-inflammatory drops without steroid", "US label (FDA), prednisolone acetate 1%; EU product information, dexamethasone without preservative"),
    ("R56", ["caution", "caution", "caution"], "prednisolone acetate with bisulfite, bromfenac 0.09%, phenylephrine with bisulfite", "US label (FDA), prednisolone acetate 1%; a label of FDA, MHRA or EMA; US label (FDA), phenylephrine, older"),
    ("R57", ["caution", "stop", "stop"], "anti-inflammatory drops without steroid", "EU product information (EMA), nepafenac 3 mg/mL; UK product information (MHRA), ketorolac 0.5%, paraphrased copy"),
    ("R58", ["caution", "caution", "caution"], "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA"),
    ("R59", ["caution", "caution", "caution"], "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA; secondary drug reference, nepafenac"),
    ("R60", ["caution", "caution", "caution"], "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA; secondary drug reference, nepafenac"),
    ("R61", ["caution", "caution", "caution"], "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA"),
    ("R62", ["caution", "caution", "caution"], "steroid and NSAID drops together", "US label (FDA), ketorolac 0.4%; US label (FDA), bromfenac"),
    ("R63", ["caution", "caution", "caution"], "NSAID drops, longer than 14 days", "a label of FDA, MHRA or EMA"),
    ("R64", ["stop", "stop", "stop"], "cyclopentolate", "US label (FDA), cyclopentolate"),
    ("R65", ["caution", "stop", "stop"], "tropicamide", "UK product information (MHRA), tropicamide, paraphrased copy; US label (FDA), tropicamide"),
    ("R66", ["caution", "stop", "stop"], "phenylephrine", "US label (FDA), phenylephrine, older; a label of FDA, MHRA or EMA"),
    ("R67", ["stop", "stop", "stop"], "phenylephrine 10%, and 2.5% by an older UK text", "US label (FDA), phenylephrine; UK product information (MHRA), phenylephrine 10%; the same, 2.5%, older copy"),
    ("R68", ["stop", "stop", "stop"], "phenylephrine 10%", "a label of FDA, MHRA or EMA; US label (FDA), phenylephrine"),
    ("R69", ["caution", "stop", "stop"], "phenylephrine 10%, and 2.5% by an older UK text", "UK product information (MHRA), phenylephrine 10%; the same, 2.5%, older copy"),
    ("R70", ["caution", "stop", "stop"], "phenylephrine 10%, and 2.5% by an older UK text", "UK product information (MHRA), phenylephrine 10%; the same, 2.5%, older copy"),
    ("R71", ["caution", "caution", "caution"], "(plan, driver)", "Eye 2003;17:735; US label (FDA), tropicamide"),
    ("R72", ["caution", "caution", "caution"], "latanoprost", "Hong Kong, Thai and Malaysian product information, latanoprost; J Glaucoma 2000;9:317"),
    ("R73", ["caution", "caution", "caution"], "latanoprost", "common EU product information, latanoprost, 2022"),
    ("R74", ["caution", "caution", "caution"], "latanoprost", "a label of FDA, MHRA or EMA"),
    ("R75", ["caution", "caution", "caution"], "carbonic anhydrase inhibitor drops", "US label (FDA), dorzolamide; UK monograph, brinzolamide"),
    ("R76", ["note", "stop", "stop"], "proxymetacaine", "UK product information (MHRA), proxymetacaine"),
    ("R77", ["stop", "stop", "stop"], "proxymetacaine, tetracaine", "US label (FDA), tetracaine, older"),
    ("R79", ["note", "caution", "caution"], "drops that hold phosphate", "UK product information (MHRA), dexamethasone sodium phosphate 0.1%, 2017; UK patient leaflet, fluorometholone, 2020"),
    ("R80", ["note", "caution", "caution"], "steroids", "a label of FDA, MHRA or EMA"),
    ("R81", ["note", "stop", "stop"], "apraclonidine 0.5%", "a label of FDA, MHRA or EMA"),
    ("R82", ["caution", "caution", "caution"], "alpha agonists", "US labels (FDA), apraclonidine 0.5% and brimonidine; product information (AIFA, Italy), brimonidine"),
    ("R83", ["caution", "caution", "caution"], "alpha agonists", "US labels (FDA), apraclonidine 0.5% and brimonidine; product information (AIFA, Italy), brimonidine"),
    ("R84", ["caution", "caution", "caution"], "carbonic anhydrase inhibitors", "UK product information (MHRA), acetazolamide modified release, 2018; product information (AIFA, Italy), dorzolamide"),
    ("R85", ["ask", "stop", "stop"], "carbonic anhydrase inhibitors", "product information (AIFA, Italy), dorzolamide; EU product information (EMA), brinzolamide, 2021; UK product information (MHRA), acetazolamide tablets, 2015"),
    ("R86", ["caution", "caution", "caution"], "beta-blockers", "product information (AIFA, Italy), dorzolamide and timolol; UK patient leaflet (MHRA), timolol, 2014"),
    ("R87", ["caution", "caution", "caution"], "beta-blockers", "product information (AIFA, Italy), dorzolamide and timolol; UK patient leaflet (MHRA), timolol, 2014"),
    ("R88", ["caution", "caution", "caution"], "beta-blockers", "product information (AIFA, Italy), dorzolamide and timolol; UK patient leaflet (MHRA), timolol, 2014"),
    ("R89", ["caution", "caution", "caution"], "acetazolamide", "UK product information (MHRA), acetazolamide modified release, 2018"),
];

/// Our own beside them: doses above the label, two drops of one class.
const OWN: &[&str] = &["F01", "F02", "F03"];

/// `R17a` and `R17b` are two degrees of `R17`; `R42b` is a rule of its own in the list.
fn number(id: &str) -> &str {
    if id == "R42b" { id } else { id.trim_end_matches(char::is_alphabetic) }
}

#[test]
fn every_published_rule_is_there_at_its_levels_and_no_other() {
    let rules = Rules::load(&Assets::default()).expect("the rules load");
    let mut ours: BTreeMap<&str, [Level; 3]> = BTreeMap::new();
    for rule in rules.drugs.iter().filter(|rule| !OWN.contains(&rule.row.id.as_str())) {
        let of_label = [rule.row.level_us, rule.row.level_eu_uk, rule.level(Labels::Stricter)];
        let levels = of_label.map(|level| level.expect("a level of both labels"));
        let heaviest = ours.entry(number(&rule.row.id)).or_insert(levels);
        *heaviest = [0, 1, 2].map(|at| heaviest[at].min(levels[at]));
    }
    let ours: BTreeMap<&str, [&str; 3]> = ours.into_iter().map(|(id, levels)| (id, levels.map(Level::word))).collect();
    let published: BTreeMap<&str, [&str; 3]> = PUBLISHED.iter().map(|(id, levels, ..)| (*id, *levels)).collect();
    assert_eq!(published.len(), PUBLISHED.len(), "a number stands twice");
    assert_eq!(ours, published);
}
