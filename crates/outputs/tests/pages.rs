//! The page and the drawings: well-formed, self-contained, escaped, and as reviewed.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot be set up has failed"
)]

mod gold;
mod valley;

use gold::check;
use model::finding::{Finding, Severity};
use outputs::TextStyle;
use valley::{HOSTILE_NAME, Valley};

fn page(valley: &Valley) -> String {
    outputs::report::report(&valley.handout()).unwrap()
}

fn parse(text: &str) -> roxmltree::Document<'_> {
    let options = roxmltree::ParsingOptions {
        allow_dtd: true,
        ..roxmltree::ParsingOptions::default()
    };
    roxmltree::Document::parse_with_options(text, options).unwrap()
}

#[test]
fn exact_page_is_well_formed_and_asks_nothing_of_the_network() {
    let valley = Valley::small();
    let text = page(&valley);
    let xml = parse(&text);
    for node in xml.descendants().filter(roxmltree::Node::is_element) {
        assert!(!matches!(
            node.tag_name().name(),
            "script" | "link" | "iframe" | "object"
        ));
        for attribute in node.attributes() {
            let fetches = matches!(attribute.name(), "src" | "href" | "srcset" | "data");
            let inside = attribute.value().starts_with("data:image/png;base64,")
                || attribute.value().starts_with('#');
            assert!(
                !fetches || inside,
                "{} = {}",
                attribute.name(),
                attribute.value()
            );
            assert!(!attribute.name().starts_with("on"));
        }
    }
    assert!(!text.contains("@import") && !text.contains("url("));
}

#[test]
fn exact_names_are_text_and_never_markup() {
    let mut valley = Valley::small();
    valley.network.name = HOSTILE_NAME.to_owned();
    valley.network.rule_set = std::sync::Arc::new(model::rules::RuleSet {
        title: HOSTILE_NAME.to_owned(),
        caution: format!("{HOSTILE_NAME}\u{b}\u{0}"),
        ..(*valley.network.rule_set).clone()
    });
    valley.cross_sections[0].from = HOSTILE_NAME.to_owned();
    valley
        .findings
        .push(Finding::new(Severity::Note, "x", format!("`{HOSTILE_NAME}`")).hint(HOSTILE_NAME));
    let text = page(&valley);
    assert!(!text.contains("<script"));
    let xml = parse(&text);
    let heading = xml
        .descendants()
        .find(|n| n.has_tag_name(("http://www.w3.org/1999/xhtml", "h1")))
        .unwrap();
    assert_eq!(heading.text(), Some(HOSTILE_NAME));
    let svg = outputs::cross_section_svg(&valley.cross_sections[0]);
    assert!(!svg.contains("<script"));
    assert!(
        parse(&svg)
            .descendants()
            .any(|n| n.text() == Some(HOSTILE_NAME))
    );
}

#[test]
fn exact_page_names_every_premises_and_its_verdict() {
    let valley = Valley::small();
    let text = page(&valley);
    for p in &valley.study.premises {
        assert!(text.contains(p.id.as_str()));
    }
    let s = &valley.study.summary;
    assert!(text.contains(&format!(
        "<strong>{} of {} premises</strong>",
        s.served, s.premises
    )));
    assert!(text.contains("ITU-R P.1812"));
    for caution in [
        "Spectrum.",
        "Height.",
        "Structures.",
        "Mains",
        "Lightning.",
        "Radio exposure.",
    ] {
        assert!(text.contains(caution), "{caution}");
    }
}

#[test]
fn exact_page_without_ground_and_without_premises() {
    let mut valley = Valley::small();
    valley.network.premises.clear();
    valley.study.premises.clear();
    valley.cross_sections.clear();
    let handout = outputs::Handout {
        surroundings: None,
        ..valley.handout()
    };
    let text = outputs::report::report(&handout).unwrap();
    parse(&text);
    assert!(text.contains("no relief"));
}

#[test]
fn exact_relief_is_a_png_of_the_asked_size() {
    let valley = Valley::small();
    let text = page(&valley);
    let start = text.find("base64,").unwrap() + 7;
    let end = start + text[start..].find('"').unwrap();
    let bytes = base64::Engine::decode(
        &base64::engine::general_purpose::STANDARD,
        &text[start..end],
    )
    .unwrap();
    let reader = png::Decoder::new(std::io::Cursor::new(bytes))
        .read_info()
        .unwrap();
    let info = reader.info();
    assert!(info.width.max(info.height) <= 1200 && info.width.max(info.height) > 600);
}

#[test]
fn exact_terminal_drawing_fits_its_width() {
    let valley = Valley::small();
    for width in [40, 80, 133] {
        for ascii in [false, true] {
            let style = TextStyle {
                width,
                ascii,
                colour: false,
            };
            let text = outputs::cross_section_text(&valley.cross_sections[0], &style);
            let drawing = text.lines().skip(5).take(17);
            assert!(
                drawing.clone().all(|l| l.chars().count() <= width),
                "{text}"
            );
            assert_eq!(drawing.count(), 17);
            assert!(!ascii || text.is_ascii(), "{text}");
            let budget = outputs::budget_text(&valley.cross_sections[0], &style);
            assert!(!budget.contains('\u{1b}'));
        }
    }
}

#[test]
fn exact_budget_column_adds_up() {
    let valley = Valley::small();
    for report in &valley.cross_sections {
        for terms in [&report.downlink, &report.uplink] {
            let rsl = terms.iter().position(|t| t.name == "rsl_dbm").unwrap();
            let sum: f64 = terms[..rsl].iter().map(|t| t.value).sum();
            assert!((sum - terms[rsl].value).abs() < 1e-9);
        }
    }
}

#[test]
fn exact_what_a_budget_and_a_drawing_leave_out_is_told() {
    let mut valley = Valley::small();
    let style = TextStyle::default();
    let all = |valley: &Valley| {
        let report = &valley.cross_sections[0];
        let svg = outputs::cross_section_svg(report);
        let text = outputs::cross_section_text(report, &style);
        [
            svg,
            text,
            outputs::budget_text(report, &style),
            page(valley),
        ]
    };
    let alone = "this link alone, without interference";
    let aside = "mapped clutter left out of the path loss";
    for text in all(&valley) {
        assert!(!text.contains(alone) && !text.contains(aside));
    }
    let report = &mut valley.cross_sections[0];
    report.company = engine::explain::Company::Alone;
    report.section.set_aside_clutter_m[3] = 9.0;
    // Antennas are labelled with the heights they were evaluated at.
    report.geometry.from_agl_m = 31.0;
    report.geometry.to_agl_m = 7.5;
    let [svg, text, budget, page] = all(&valley);
    assert!(budget.contains(alone) && page.contains(alone));
    for drawing in [&svg, &text, &page] {
        assert!(drawing.contains(aside));
    }
    assert!(svg.contains("31 m above ground") && svg.contains("7.5 m above ground"));
    assert!(text.contains("antennas 31 m and 7.5 m above ground"));
}

#[test]
fn exact_trees_are_printed_with_the_terms() {
    let mut valley = Valley::small();
    let report = &mut valley.cross_sections[0];
    report.woodland = Some(engine::woodland::Woodland {
        depth_m: 24.5,
        through_db: 9.8,
        through_loss_db: 141.5,
        over_loss_db: 139.5,
        combined_loss_db: 137.4,
    });
    let budget = outputs::budget_text(report, &TextStyle::default());
    let (_, trees) = budget.split_once("Trees around the terminal\n").unwrap();
    let values: Vec<_> = trees
        .lines()
        .take(5)
        .map(|l| l.split_whitespace().rev().nth(1).unwrap())
        .collect();
    assert_eq!(values, ["139.5", "24.5", "9.80", "141.5", "137.4"]);
}

/// Reviewed by eye; `MASTWRIGHT_BLESS=1` writes them anew.
#[test]
fn gold_texts() {
    let valley = Valley::small();
    let report = &valley.cross_sections[0];
    let style = TextStyle::default();
    check(
        "cross_section.txt",
        &outputs::cross_section_text(report, &style),
    );
    check("budget.txt", &outputs::budget_text(report, &style));
    let ledger = outputs::ledger_csv::premises(&valley.handout()).unwrap();
    check("ledger.csv", &String::from_utf8(ledger).unwrap());
}

/// The page without its picture, whose bytes nobody can review.
#[test]
fn gold_page() {
    let valley = Valley::small();
    let handout = outputs::Handout {
        surroundings: None,
        cross_sections: &valley.cross_sections[..1],
        ..valley.handout()
    };
    let text = outputs::report::report(&handout).unwrap();
    let text = without_charts(&text);
    check("report.html", &text.replace("><", ">\n<"));
}

/// Pixels of a chart may fall either way on another machine.
fn without_charts(page: &str) -> String {
    let mut parts = page.split("<figure class=\"chart\"");
    let mut text = parts.next().unwrap().to_owned();
    for part in parts {
        let (_, after) = part.split_once("</figure>").unwrap();
        text += "<figure class=\"chart\"></figure>";
        text += after;
    }
    text
}
