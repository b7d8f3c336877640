//! The sheet as one HTML file, opened in a browser: no error, nothing fetched, a click on a label
//! leads to its part, nothing runs over the edge on a telephone, a desk or paper.

mod outside;

use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tungstenite::stream::MaybeTlsStream;
use tungstenite::{Message, WebSocket};

fn sheet(folder: &Path) -> PathBuf {
    let file = folder.join("bay.html");
    let done = assert_cmd::Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["sheet", "fixtures/canopy_bay_01.stl", "--unit", "mm", "-o"])
        .arg(&file)
        .output()
        .expect("a run");
    assert!(done.status.success(), "{done:?}");
    file
}

/// A browser that is ended with the test.
struct Browser {
    child: Child,
    line: WebSocket<MaybeTlsStream<TcpStream>>,
    session: Option<String>,
    next: u64,
    /// What the page reported.
    events: Vec<Value>,
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Browser {
    fn start(program: &Path, profile: &Path) -> Browser {
        let mut child = Command::new(program)
            .args([
                "--headless=new",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                "--no-first-run",
                "--remote-debugging-port=0",
            ])
            .arg(format!("--user-data-dir={}", profile.display()))
            .arg("about:blank")
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the browser starts");
        let mut said = BufReader::new(child.stderr.take().expect("its messages"));
        let address = loop {
            let mut text = String::new();
            let read = said.read_line(&mut text).expect("its messages");
            assert!(read > 0, "the browser ended before it listened");
            if let Some((_, address)) = text.split_once("listening on ") {
                break address.trim().to_owned();
            }
        };
        // The rest of what it says must not fill the pipe.
        std::thread::spawn(move || std::io::copy(&mut said, &mut std::io::sink()));
        let (line, _) = tungstenite::connect(&address).expect("the browser answers");
        if let MaybeTlsStream::Plain(stream) = line.get_ref() {
            let patience = Some(Duration::from_secs(60));
            stream.set_read_timeout(patience).expect("a time limit");
        }
        Browser {
            child,
            line,
            session: None,
            next: 0,
            events: Vec::new(),
        }
    }

    fn ask(&mut self, method: &str, params: Value) -> Value {
        self.next += 1;
        let id = self.next;
        let mut request = json!({"id": id, "method": method, "params": params});
        if let Some(session) = &self.session {
            request["sessionId"] = json!(session);
        }
        self.line
            .send(Message::text(request.to_string()))
            .expect("the browser listens");
        loop {
            let answer = self.read();
            if answer["id"] == json!(id) {
                assert!(answer["error"].is_null(), "{method}: {}", answer["error"]);
                return answer["result"].clone();
            }
            self.events.push(answer);
        }
    }

    fn read(&mut self) -> Value {
        let message = self.line.read().expect("the browser answers");
        serde_json::from_str(message.to_text().expect("text")).expect("JSON")
    }

    fn open(&mut self, file: &Path) {
        let target = self.ask("Target.createTarget", json!({"url": "about:blank"}));
        let attached = self.ask(
            "Target.attachToTarget",
            json!({"targetId": target["targetId"], "flatten": true}),
        );
        self.session = attached["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Runtime", "Log", "Network"] {
            self.ask(&format!("{domain}.enable"), json!({}));
        }
        let url = format!("file://{}", file.display());
        self.ask("Page.navigate", json!({"url": url}));
        let loaded = |e: &Value| e["method"] == "Page.loadEventFired";
        let start = Instant::now();
        while !self.events.iter().any(loaded) {
            assert!(start.elapsed() < Duration::from_secs(60), "never loaded");
            let event = self.read();
            self.events.push(event);
        }
    }

    fn value(&mut self, expression: &str) -> Value {
        let result = self.ask(
            "Runtime.evaluate",
            json!({"expression": expression, "returnByValue": true}),
        );
        result["result"]["value"].clone()
    }

    fn screen(&mut self, width: u32, height: u32) {
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}),
        );
    }

    fn click(&mut self, x: f64, y: f64) {
        for kind in ["mousePressed", "mouseReleased"] {
            self.ask(
                "Input.dispatchMouseEvent",
                json!({"type": kind, "x": x, "y": y, "button": "left", "clickCount": 1}),
            );
        }
    }
}

#[test]
fn opens_at_the_piece_that_is_clicked_and_fetches_nothing() {
    let Some(program) = outside::program(&["chromium", "chromium-browser"], "chromium") else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let file = sheet(folder.path());
    let mut browser = Browser::start(&program, &folder.path().join("profile"));
    browser.open(&file);
    for (width, height) in [(390, 844), (1280, 900)] {
        browser.screen(width, height);
        let fits = browser.value("document.documentElement.scrollWidth <= window.innerWidth");
        assert_eq!(fits, json!(true), "wider than a screen of {width}");
        for mark in ["M1", "P1", "P2"] {
            browser.value("location.hash = ''; window.scrollTo(0, 0)");
            let find = format!(
                "(() => {{ const a = document.querySelector('figure a[href=\"#part-{mark}\"]'); \
                 a.scrollIntoView({{block: 'center'}}); \
                 const r = a.getBoundingClientRect(); \
                 return [r.left + r.width / 2, r.top + r.height / 2, r.width]; }})()"
            );
            let at = browser.value(&find);
            let number = |k: usize| at[k].as_f64().expect("a place");
            // A finger needs about this much.
            assert!(number(2) >= 24.0, "{mark} is {} wide", number(2));
            browser.click(number(0), number(1));
            let start = Instant::now();
            let hash = format!("#part-{mark}");
            while browser.value("location.hash") != json!(hash) {
                assert!(start.elapsed() < Duration::from_secs(20), "{mark}: no move");
            }
            let top = browser.value(&format!(
                "document.getElementById('part-{mark}').getBoundingClientRect().top"
            ));
            let bottom = browser.value(
                "window.innerHeight - document.documentElement.getBoundingClientRect().bottom",
            );
            let top = top.as_f64().expect("a place");
            let at_the_end = bottom.as_f64().is_some_and(|b| b > -2.0);
            assert!(top.abs() < 40.0 || at_the_end, "{mark} stands at {top}");
        }
        // Words in pictures stay as wide as they were measured: no face is missing.
        let off = browser.value(
            "Math.max(...[...document.querySelectorAll('svg text')].map(t => \
             Math.abs(t.getBBox().width - t.getAttribute('textLength'))))",
        );
        assert!(
            off.as_f64().is_some_and(|v| v < 0.6),
            "letters off by {off}"
        );
    }
    browser.ask("Emulation.clearDeviceMetricsOverride", json!({}));
    let printed = browser.ask("Page.printToPDF", json!({"preferCSSPageSize": true}));
    assert!(printed["data"].as_str().is_some_and(|d| d.len() > 1000));
    quiet(&browser.events, &file);
}

/// No error was reported, and nothing but the file was asked for.
fn quiet(events: &[Value], file: &Path) {
    let own = format!("file://{}", file.display());
    let mut asked = 0;
    for event in events {
        let params = &event["params"];
        match event["method"].as_str() {
            Some("Runtime.exceptionThrown") => panic!("{params}"),
            Some("Runtime.consoleAPICalled") => panic!("{params}"),
            Some("Log.entryAdded") => {
                assert_ne!(params["entry"]["level"], "error", "{params}");
                assert_ne!(params["entry"]["level"], "warning", "{params}");
            }
            Some("Network.requestWillBeSent") => {
                let url = params["request"]["url"].as_str().unwrap_or_default();
                let inside = url.starts_with("data:") || url.split('#').next() == Some(&own);
                assert!(inside, "{url} was fetched");
                asked += 1;
            }
            _ => {}
        }
    }
    assert!(asked > 0, "the requests were not seen");
}

#[test]
fn holds_no_address_and_no_program() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = std::fs::read_to_string(sheet(folder.path())).expect("the sheet");
    for word in [
        "http:",
        "https:",
        "<script",
        "javascript:",
        "<link",
        "<img",
        "@import",
    ] {
        assert!(!text.contains(word), "{word}");
    }
    assert!(text.starts_with("<!doctype html>"));
}
