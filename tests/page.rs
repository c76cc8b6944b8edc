//! Pages and pictures in a real browser. Not part of the usual run, because it needs one:
//!
//! ```sh
//! cargo test --test integration page:: -- --ignored
//! ```
//!
//! `CHROMIUM` names the browser; without it `chromium`, `chromium-browser` and `google-chrome` are
//! tried.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

const PAGES: [(&str, &[&str]); 10] = [
    ("balance", &["balance", "examples/cannery.toml"]),
    (
        "balance_us",
        &["balance", "examples/dairy.toml", "--units", "us", "--set", "blowdown.cycles=50"],
    ),
    ("blowdown", &["blowdown", "examples/dairy.toml"]),
    ("visits", &["blowdown", "examples/dairy.toml", "--visits", "examples/dairy-visits.csv"]),
    ("check", &["check", "examples/dairy.toml", "examples/dairy-log.csv"]),
    (
        "check_shift",
        &["check", "examples/dairy.toml", "examples/dairy-log.csv", "--every", "shift"],
    ),
    (
        "transient",
        &["transient", "examples/dairy.toml", "--start", "1", "--event", "5 h dose 90 mg/L"],
    ),
    ("year", &["year", "examples/dairy.toml", "examples/dairy-weather.csv"]),
    ("feed", &["feed", "examples/dairy.toml"]),
    ("level", &["level", "examples/dairy.toml"]),
];

/// Loads a page in a frame as wide as a screen, and writes down what does not fit: words beyond the
/// edge, words of a picture on each other, outside it or too small.
const HARNESS: &str = r#"<!DOCTYPE html><meta charset="utf-8">
<iframe src="PAGE" style="border:0;width:WIDTHpx;height:900px"></iframe>
<pre id="found"></pre>
<script>
addEventListener("load", () => {
  const page = document.querySelector("iframe").contentDocument;
  const width = WIDTH, found = [];
  const say = (what, element) => found.push(what + ": " + element.textContent.trim().slice(0, 60));
  if (page.documentElement.scrollWidth > width) found.push("the page is wider than its window");
  for (const element of page.querySelectorAll("h1,h2,p,code,th,td,figure")) {
    const box = element.getBoundingClientRect(), head = element.closest("thead");
    // Heads of tables that are shown as lists are there for those who hear the page.
    if (head && getComputedStyle(head).position == "absolute") continue;
    if (box.width > 1 && (box.left < -1 || box.right > width + 1)) say("cut", element);
    if (element.scrollWidth > element.clientWidth + 1 && element.clientWidth > 1) say("overflows", element);
  }
  for (const svg of page.querySelectorAll("svg")) {
    const outer = svg.getBoundingClientRect();
    if (outer.width == 0) continue;
    const scale = outer.width / svg.viewBox.baseVal.width;
    const texts = [...svg.querySelectorAll("text")].filter(text => text.textContent.trim());
    const boxes = texts.map(text => text.getBoundingClientRect());
    texts.forEach((text, i) => {
      const size = parseFloat(getComputedStyle(text).fontSize) * scale, box = boxes[i];
      if (size < 9) say("small, " + size, text);
      if (box.left < outer.left || box.right > outer.right || box.top < outer.top || box.bottom > outer.bottom)
        say("outside its picture", text);
      for (let j = 0; j < i; j++) {
        const other = boxes[j];
        const across = Math.min(box.right, other.right) - Math.max(box.left, other.left);
        const down = Math.min(box.bottom, other.bottom) - Math.max(box.top, other.top);
        // Lines of text may touch; letters do not.
        if (across > 1 && down > 3.5) say("on " + texts[j].textContent.trim(), text);
      }
    });
  }
  found.push("pictures seen: " + page.querySelectorAll("svg").length);
  document.getElementById("found").textContent = found.join("\n");
});
</script>"#;

fn browser() -> String {
    let named = std::env::var("CHROMIUM").ok();
    let tried = ["chromium", "chromium-browser", "google-chrome"].map(str::to_owned);
    let runs = |name: &String| Command::new(name).arg("--version").output().is_ok();
    named.into_iter().chain(tried).find(runs).expect("a Chromium; name it in CHROMIUM")
}

struct Run {
    dom: String,
    console: String,
}

/// Opens a page; what it became, and what the console said.
fn open(browser: &str, folder: &Path, page: &Path, is_dark: bool) -> Run {
    let scheme = format!("--blink-settings=preferredColorScheme={}", u8::from(!is_dark));
    let output = Command::new(browser)
        .args(["--headless=new", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr"])
        .args([
            "--allow-file-access-from-files",
            "--virtual-time-budget=5000",
            "--dump-dom",
            &scheme,
        ])
        .arg(format!("--user-data-dir={}", folder.join("profile").display()))
        .arg(format!("file://{}", page.display()))
        .output()
        .expect("the browser runs");
    let console = String::from_utf8_lossy(&output.stderr);
    let console = console.lines().filter(|line| line.contains("CONSOLE")).collect::<Vec<_>>();
    Run { dom: String::from_utf8_lossy(&output.stdout).into_owned(), console: console.join("\n") }
}

#[test]
#[ignore = "needs a Chromium: cargo test --test integration page:: -- --ignored"]
fn pages_fit_their_windows_and_ask_for_nothing() {
    let browser = browser();
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("page");
    fs::create_dir_all(&folder).unwrap();
    let mut wrong = Vec::new();
    for (name, arguments) in PAGES {
        let page = folder.join(format!("{name}.html"));
        let status = Command::new(env!("CARGO_BIN_EXE_coldbasin"))
            .args(arguments)
            .arg("--report")
            .arg(&page)
            .output()
            .unwrap();
        assert!(page.exists(), "{name}: {}", String::from_utf8_lossy(&status.stderr));
        let alone = open(&browser, &folder, &page, false);
        if !alone.console.is_empty() {
            wrong.push(format!("{name}: {}", alone.console));
        }
        let text = fs::read_to_string(&page).unwrap();
        for word in ["src=", "href=", "url(", "@import", "<script", "<link"] {
            assert!(!text.contains(word), "{name} has {word}");
        }
        // The page's own policy forbids every request, and the browser says so of each: of this one.
        let asking = folder.join("asking.html");
        let image = "<img src=\"http://127.0.0.1/none.png\"></body>";
        fs::write(&asking, text.replace("</body>", image)).unwrap();
        assert!(!open(&browser, &folder, &asking, false).console.is_empty(), "{name}");
        for width in [360, 710, 1280] {
            let harness = folder.join(format!("harness_{name}_{width}.html"));
            let html = HARNESS
                .replace("PAGE", &format!("{name}.html"))
                .replace("WIDTH", &width.to_string());
            fs::write(&harness, html).unwrap();
            let run = open(&browser, &folder, &harness, width == 360);
            let found = run.dom.split("<pre id=\"found\">").nth(1).unwrap_or_default();
            let found = found.split("</pre>").next().unwrap_or_default();
            assert!(found.contains("pictures seen"), "{name} at {width}: {}", run.dom);
            let lines = found.lines().filter(|line| !line.starts_with("pictures seen"));
            wrong.extend(lines.map(|line| format!("{name} at {width} px: {line}")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
