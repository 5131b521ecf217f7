//! The drug rules that published labels and papers call for, carried over one by one, and what the program makes of them.
//!
//! `a label of FDA, MHRA or EMA` = the text was read in a copy that names the product; `from memory` = not seen. Levels are
//! the heaviest that any of the label families gives, read as this program reads them: listed contraindication = `stop`,
//! texts that contradict each other or say do not use elsewhere = `ask`, warning = `caution`.

use std::collections::BTreeMap;

use vitreoleaf::assets::Assets;
use vitreoleaf::findings::Rules;
use vitreoleaf::record::profile::Labels;

/// Number of the rule, heaviest level, drugs, where it is published.
///
/// R51 and R52 are warnings of the labels; the choice of this project is to ask. R10 is heaviest with heart failure. R67 to
/// R70 are of 10 % phenylephrine, R33 of both strengths. R78 of the list, "not recorded: caution", is no row: what is not
/// recorded asks where its rule can stop, and that is checked in `every_case_comes_out_as_written`.
const PUBLISHED: &[(&str, &str, &str, &str)] = &[
    ("R01", "stop", "beta-blockers", "US label (FDA), dorzolamide and timolol; PubMed 27161880"),
    ("R02", "stop", "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R03", "caution", "beta-blockers", "from memory"),
    ("R04", "stop", "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R05", "stop", "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R06", "caution", "beta-blockers", "from memory"),
    ("R07", "stop", "beta-blockers", "US label (FDA), dorzolamide and timolol"),
    ("R08", "caution", "beta-blockers", "US label (FDA), dorzolamide and timolol; from memory"),
    ("R09", "caution", "beta-blockers", "UK product information (MHRA), timolol; secondary US drug reference, timolol"),
    ("R10", "stop", "beta-blockers", "secondary US drug reference, timolol; a label of FDA, MHRA or EMA"),
    ("R11", "caution", "beta-blockers", "secondary US drug reference, timolol; a label of FDA, MHRA or EMA"),
    ("R12", "caution", "beta-blockers", "secondary US drug reference, timolol; a label of FDA, MHRA or EMA"),
    ("R13", "caution", "beta-blockers", "US label (FDA), timolol"),
    ("R14", "caution", "beta-blockers", "US label (FDA), timolol"),
    ("R15", "caution", "beta-blockers", "UK product information (MHRA), timolol"),
    ("R16", "stop", "brinzolamide", "US label (FDA), brinzolamide; from memory"),
    ("R17", "stop", "dorzolamide, dorzolamide and timolol", "US label (FDA), dorzolamide and timolol; US label (FDA), dorzolamide"),
    ("R18", "stop", "acetazolamide", "UK patient leaflets (MHRA), acetazolamide tablets; a label of FDA, MHRA or EMA"),
    ("R19", "stop", "carbonic anhydrase inhibitor drops", "UK monograph, brinzolamide; German summary of contraindications, dorzolamide and timolol"),
    ("R20", "stop", "acetazolamide", "UK patient leaflets (MHRA), acetazolamide tablets; a label of FDA, MHRA or EMA"),
    ("R21", "caution", "alpha agonists", "US label (FDA), apraclonidine 0.5%; UK product information (MHRA), brimonidine"),
    ("R22", "caution", "carbonic anhydrase inhibitor drops, or acetazolamide + carbonic anhydrase inhibitor drops in the same plan", "German summary of contraindications, dorzolamide and timolol; US label (FDA), brinzolamide, older"),
    ("R23", "caution", "acetazolamide", "US label (FDA), acetazolamide tablets"),
    ("R24", "caution", "acetazolamide (and carbonic anhydrase inhibitor drops)", "US label (FDA), acetazolamide tablets"),
    ("R25", "stop", "acetazolamide", "UK patient leaflets (MHRA), acetazolamide tablets"),
    ("R26", "caution", "acetazolamide", "from memory"),
    ("R27", "caution", "acetazolamide", "US label (FDA), acetazolamide tablets"),
    ("R28", "stop", "any benzalkonium product", "US label (FDA), dorzolamide and timolol; US label (FDA), dorzolamide; Hong Kong product information, latanoprost"),
    ("R29", "caution", "any benzalkonium product", "US label (FDA), dorzolamide and timolol; EMA questions and answers on benzalkonium"),
    ("R30", "caution", "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA"),
    ("R31", "stop", "apraclonidine", "US label (FDA), apraclonidine 1%"),
    ("R32", "stop", "brimonidine", "UK product information (MHRA), brimonidine"),
    ("R33", "stop", "phenylephrine", "a label of FDA, MHRA or EMA; UK patient leaflet (MHRA), phenylephrine 10%"),
    ("R34", "stop", "brimonidine, apraclonidine 0.5%", "UK product information (MHRA), brimonidine; a label of FDA, MHRA or EMA"),
    ("R35", "stop", "apraclonidine", "US label (FDA), apraclonidine 0.5%; US label (FDA), apraclonidine 1%"),
    ("R36", "caution", "brimonidine", "a label of FDA, MHRA or EMA"),
    ("R37", "stop", "apraclonidine", "UK monograph, apraclonidine 1%; a label of FDA, MHRA or EMA"),
    ("R38", "caution", "alpha agonists", "US label (FDA), brimonidine; US label (FDA), apraclonidine 0.5%"),
    ("R39", "caution", "apraclonidine", "US label (FDA), apraclonidine 0.5%"),
    ("R40", "stop", "brimonidine", "US label (FDA), brimonidine"),
    ("R41", "stop", "apraclonidine (UK), nepafenac, bromfenac", "a label of FDA, MHRA or EMA; EU product information (EMA), nepafenac 1 mg/mL"),
    ("R42", "ask", "brimonidine, apraclonidine", "UK patient leaflet (MHRA), brimonidine; US label (FDA), apraclonidine 0.5%; UK monograph, apraclonidine 0.5%"),
    ("R42b", "ask", "apraclonidine 0.5%", "UK monograph, apraclonidine 0.5%; UK monograph, apraclonidine 1%"),
    ("R43", "ask", "dorzolamide and timolol (caution for beta-blockers or carbonic anhydrase inhibitor drops alone)", "German summary of contraindications, dorzolamide and timolol; US label (FDA), timolol"),
    ("R44", "caution", "acetazolamide", "from memory"),
    ("R45", "caution", "anti-inflammatory drops without steroid", "US label (FDA), bromfenac"),
    ("R46", "caution", "steroids, brimonidine (pregnancy), latanoprost, dilating drops", "US label (FDA), prednisolone acetate 1%; UK monograph, apraclonidine 0.5%"),
    ("R47", "stop", "steroids", "US label (FDA), prednisolone acetate 1%; US label (FDA), loteprednol 0.5%; secondary drug reference, rimexolone"),
    ("R48", "ask", "steroids", "US label (FDA), prednisolone acetate 1%; a label of FDA, MHRA or EMA; PubMed 10584428"),
    ("R49", "stop", "steroids, latanoprost", "US label (FDA), prednisolone acetate 1%; Hong Kong product information, latanoprost"),
    ("R50", "caution", "latanoprost", "Hong Kong product information, latanoprost"),
    ("R51", "ask", "steroids (worst: dexamethasone, prednisolone)", "review of steroid-induced glaucoma; Arch Ophthalmol 1967;77:593"),
    ("R52", "ask", "steroids", "US label (FDA), prednisolone acetate 1%; a label of FDA, MHRA or EMA; Swiss patient leaflet, dexamethasone without preservative"),
    ("R53", "caution", "steroids", "US label (FDA), prednisolone acetate 1%"),
    ("R54", "caution", "steroids, 10 days or longer", "US label (FDA), prednisolone acetate 1%; secondary drug reference, rimexolone"),
    ("R55", "stop", "steroids, anti-inflammatory drops without steroid", "US label (FDA), prednisolone acetate 1%; EU product information, dexamethasone without preservative"),
    ("R56", "caution", "prednisolone acetate with bisulfite, bromfenac 0.09%, phenylephrine with bisulfite", "US label (FDA), prednisolone acetate 1%; a label of FDA, MHRA or EMA; US label (FDA), phenylephrine, older"),
    ("R57", "stop", "anti-inflammatory drops without steroid", "EU product information (EMA), nepafenac 3 mg/mL; UK product information (MHRA), ketorolac 0.5%, paraphrased copy"),
    ("R58", "caution", "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA"),
    ("R59", "caution", "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA; secondary drug reference, nepafenac"),
    ("R60", "caution", "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA; secondary drug reference, nepafenac"),
    ("R61", "caution", "anti-inflammatory drops without steroid", "a label of FDA, MHRA or EMA"),
    ("R62", "caution", "steroid and NSAID drops together", "US label (FDA), ketorolac 0.4%; US label (FDA), bromfenac"),
    ("R63", "caution", "NSAID drops, longer than 14 days", "a label of FDA, MHRA or EMA"),
    ("R64", "stop", "cyclopentolate", "US label (FDA), cyclopentolate"),
    ("R65", "stop", "tropicamide", "UK product information (MHRA), tropicamide, paraphrased copy; US label (FDA), tropicamide"),
    ("R66", "stop", "phenylephrine", "US label (FDA), phenylephrine, older; a label of FDA, MHRA or EMA"),
    ("R67", "stop", "phenylephrine 10%", "US label (FDA), phenylephrine; a label of FDA, MHRA or EMA"),
    ("R68", "stop", "phenylephrine 10%", "a label of FDA, MHRA or EMA; US label (FDA), phenylephrine"),
    ("R69", "stop", "phenylephrine 10%", "a label of FDA, MHRA or EMA"),
    ("R70", "stop", "phenylephrine 10%", "a label of FDA, MHRA or EMA"),
    ("R71", "caution", "(plan, driver)", "Eye 2003;17:735; US label (FDA), tropicamide"),
    ("R72", "caution", "latanoprost", "Hong Kong product information, latanoprost"),
    ("R73", "caution", "latanoprost", "Hong Kong product information, latanoprost"),
    ("R74", "caution", "latanoprost", "a label of FDA, MHRA or EMA"),
    ("R75", "caution", "carbonic anhydrase inhibitor drops", "US label (FDA), dorzolamide; UK monograph, brinzolamide"),
    ("R76", "stop", "proxymetacaine", "UK product information (MHRA), proxymetacaine"),
    ("R77", "stop", "proxymetacaine, tetracaine", "US label (FDA), tetracaine, older"),
    ("R79", "caution", "dexamethasone phosphate solution", "a label of FDA, MHRA or EMA"),
    ("R80", "caution", "steroids", "a label of FDA, MHRA or EMA"),
    ("R81", "stop", "apraclonidine 0.5%", "a label of FDA, MHRA or EMA"),
    ("R82", "caution", "alpha agonists", "US label (FDA), apraclonidine 0.5%; from memory"),
    ("R83", "caution", "alpha agonists", "US label (FDA), apraclonidine 0.5%; from memory"),
];

/// Our own beside them: doses above the label.
const OWN: &[&str] = &["F01"];

/// `R17a` and `R17b` are two degrees of `R17`; `R42b` is a rule of its own in the list.
fn number(id: &str) -> &str {
    if id == "R42b" { id } else { id.trim_end_matches(char::is_alphabetic) }
}

#[test]
fn every_published_rule_is_there_at_its_level_and_no_other() {
    let rules = Rules::load(&Assets::default()).expect("the rules load");
    let mut ours: BTreeMap<&str, _> = BTreeMap::new();
    for rule in rules.drugs.iter().filter(|rule| !OWN.contains(&rule.row.id.as_str())) {
        let level = rule.level(Labels::Stricter).expect("a level");
        let heaviest = ours.entry(number(&rule.row.id)).or_insert(level);
        *heaviest = level.min(*heaviest);
    }
    let ours: BTreeMap<&str, &str> = ours.into_iter().map(|(id, level)| (id, level.word())).collect();
    let published: BTreeMap<&str, &str> = PUBLISHED.iter().map(|(id, level, ..)| (*id, *level)).collect();
    assert_eq!(published.len(), PUBLISHED.len(), "a number stands twice");
    assert_eq!(ours, published);
}
