//! A browser of our own, spoken to over the W3C WebDriver protocol: Chromium without a screen, and
//! for what the protocol lacks (screen size, console, network) its own commands through the same
//! door; or WebKit on an invisible screen, which half of all phones run.

use std::io::{BufRead, BufReader, Read, Write};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tempfile::TempDir;

/// Whether Chromium is here; says why not, and fails where a skip is no answer.
pub fn browser_found() -> bool {
    all_found(&["chromium", "chromedriver"])
}

/// The same for WebKit.
pub fn webkit_found() -> bool {
    all_found(&["WebKitWebDriver", "Xvfb"])
}

fn all_found(programs: &[&str]) -> bool {
    let absent: Vec<_> = programs.iter().filter(|p| find(p).is_none()).collect();
    if absent.is_empty() {
        return true;
    }
    assert!(
        std::env::var_os("CI").is_none(),
        "CI needs {absent:?} for the page tests"
    );
    eprintln!("SKIPPED: this page test needs {absent:?}, which PATH does not have");
    false
}

fn find(program: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path)
        .map(|folder| folder.join(program))
        .find(|file| file.is_file())
}

/// Programs that end with the test.
struct Helpers(Vec<Child>);

impl Drop for Helpers {
    fn drop(&mut self) {
        for child in self.0.iter_mut().rev() {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// One browser with one page.
pub struct Browser {
    http: reqwest::Client,
    session: String,
    _helpers: Helpers,
    profile: TempDir,
    /// Whether console and network log are kept, and the screen can be set.
    pub is_chromium: bool,
}

impl Browser {
    /// Chromium, with console and network kept.
    pub async fn start() -> Self {
        let profile = TempDir::new().unwrap();
        let port = free_port();
        let mut driver = Command::new("chromedriver");
        driver.arg(format!("--port={port}"));
        let wanted = json!({
            "browserName": "chrome",
            "goog:loggingPrefs": {"browser": "ALL", "performance": "ALL"},
            "goog:chromeOptions": {
                "binary": find("chromium").unwrap(),
                "args": [
                    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                    "--disable-background-networking", "--disable-component-update",
                    "--disable-sync", "--no-first-run", "--no-default-browser-check",
                    "--disable-extensions", "--disable-features=Translate,OptimizationHints",
                    "--autoplay-policy=user-gesture-required", "--mute-audio",
                    "--force-color-profile=srgb", "--hide-scrollbars",
                    format!("--user-data-dir={}", profile.path().display()),
                ],
            },
        });
        let helpers = Helpers(vec![quiet(&mut driver)]);
        let browser = Self::session(port, wanted, helpers, profile).await;
        // What the browser's own first tab asked for is none of ours.
        browser.open("about:blank").await;
        browser.requested().await;
        browser.complaints().await;
        browser
    }

    /// WebKit on an invisible screen. It gives neither console nor network log.
    pub async fn start_webkit() -> Self {
        let profile = TempDir::new().unwrap();
        let port = free_port();
        let mut screen = Command::new("Xvfb");
        screen.args([
            "-displayfd",
            "1",
            "-screen",
            "0",
            "1400x1000x24",
            "-nolisten",
            "tcp",
        ]);
        let mut screen = screen
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut number = String::new();
        BufReader::new(screen.stdout.take().unwrap())
            .read_line(&mut number)
            .unwrap();
        let mut driver = Command::new("WebKitWebDriver");
        driver
            .arg(format!("--port={port}"))
            .env("DISPLAY", format!(":{}", number.trim()))
            .env("HOME", profile.path())
            .env("GDK_BACKEND", "x11")
            .env("LIBGL_ALWAYS_SOFTWARE", "1")
            .env("WEBKIT_DISABLE_COMPOSITING_MODE", "1");
        let helpers = Helpers(vec![screen, quiet(&mut driver)]);
        Self::session(
            port,
            json!({"browserName": "MiniBrowser"}),
            helpers,
            profile,
        )
        .await
    }

    async fn session(port: u16, wanted: Value, helpers: Helpers, profile: TempDir) -> Self {
        let http = reqwest::Client::new();
        let door = format!("http://127.0.0.1:{port}");
        let began = Instant::now();
        while http.get(format!("{door}/status")).send().await.is_err() {
            assert!(began.elapsed() < Duration::from_secs(20), "no driver");
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        let answer: Value = http
            .post(format!("{door}/session"))
            .json(&json!({"capabilities": {"alwaysMatch": &wanted}}))
            .send()
            .await
            .unwrap()
            .json()
            .await
            .unwrap();
        let id = answer["value"]["sessionId"]
            .as_str()
            .unwrap_or_else(|| panic!("no session: {answer}"));
        Self {
            session: format!("{door}/session/{id}"),
            http,
            is_chromium: wanted["browserName"] == "chrome",
            _helpers: helpers,
            profile,
        }
    }

    /// Sets the size of a real window, in which the page has what the frame leaves.
    pub async fn window(&self, width: u32, height: u32) {
        let size = json!({"x": 0, "y": 0, "width": width, "height": height});
        self.command("window/rect", size).await;
    }

    async fn command(&self, path: &str, body: Value) -> Value {
        let value = self.answer(path, &body).await;
        assert!(value["error"].is_null(), "{path} {body}: {value}");
        value
    }

    /// What the driver answers, an error or not.
    async fn answer(&self, path: &str, body: &Value) -> Value {
        let answer: Value = self
            .http
            .post(format!("{}/{path}", self.session))
            .json(body)
            .send()
            .await
            .unwrap()
            .json()
            .await
            .unwrap();
        answer["value"].clone()
    }

    /// Processor seconds that the browser's processes have used so far.
    pub fn processor_seconds(&self) -> f64 {
        let mark = self.profile.path().display().to_string();
        let ticks: u64 = std::fs::read_dir("/proc")
            .unwrap()
            .filter_map(|entry| {
                let folder = entry.ok()?.path();
                let command = std::fs::read(folder.join("cmdline")).ok()?;
                if !String::from_utf8_lossy(&command).contains(&mark) {
                    return None;
                }
                let stat = std::fs::read_to_string(folder.join("stat")).ok()?;
                let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
                let used = |i: usize| fields.get(i)?.parse::<u64>().ok();
                Some(used(11)? + used(12)?)
            })
            .sum();
        // USER_HZ is 100 on every Linux that this runs on (proc(5)).
        ticks as f64 / 100.0
    }

    /// A command of the browser's developer protocol.
    pub async fn devtools(&self, command: &str, parameters: Value) -> Value {
        let body = json!({"cmd": command, "params": parameters});
        self.command("goog/cdp/execute", body).await
    }

    /// Sets the screen in CSS pixels; in WebKit a window of about that page.
    pub async fn screen(&self, width: u32, height: u32) {
        if !self.is_chromium {
            self.window(width + 30, height + 56).await;
            return;
        }
        let parameters = json!({
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 1000,
        });
        self.devtools("Emulation.setDeviceMetricsOverride", parameters)
            .await;
    }

    pub async fn open(&self, url: &str) {
        self.command("url", json!({"url": url})).await;
    }

    /// Runs a script body and gives what it returns.
    pub async fn run(&self, script: &str) -> Value {
        let body = json!({"script": script, "args": []});
        self.command("execute/sync", body).await
    }

    /// Lets the page's clock run ahead by so much. Timers are not affected.
    pub async fn pass(&self, time: Duration) {
        self.run(&format!(
            "if (window.ahead === undefined) {{
                const real = performance.now.bind(performance);
                window.ahead = 0;
                performance.now = () => real() + window.ahead;
            }}
            window.ahead += {}",
            time.as_millis()
        ))
        .await;
    }

    /// Waits until what the page holds by now is on the screen.
    pub async fn drawn(&self) {
        self.run(
            "return document.fonts.ready.then(() => new Promise(done =>
                requestAnimationFrame(() => requestAnimationFrame(() => done()))))",
        )
        .await;
    }

    /// Waits until an expression holds.
    pub async fn wait(&self, expression: &str) {
        self.wait_for(expression, Duration::from_secs(30)).await;
    }

    pub async fn wait_for(&self, expression: &str, patience: Duration) {
        let began = Instant::now();
        while self
            .run(&format!(
                "return Promise.resolve({expression}).then(Boolean)"
            ))
            .await
            != true
        {
            if began.elapsed() > patience {
                let body = self.run("return document.body.innerText").await;
                panic!("never true: {expression}\n{}", body.as_str().unwrap_or(""));
            }
            tokio::time::sleep(Duration::from_millis(30)).await;
        }
    }

    /// Clicks as a finger would: scrolled into view, at the middle, and only what is on top. A page
    /// that is built anew or moves at that moment is tapped again, as a person would.
    pub async fn tap(&self, selector: &str) {
        const TIMES: usize = 10;
        let mut value = Value::Null;
        for _ in 0..TIMES {
            value = self.try_tap(selector).await;
            let error = value["error"].as_str();
            if !matches!(
                error,
                Some("stale element reference" | "element click intercepted")
            ) {
                assert!(error.is_none(), "{selector}: {value}");
                return;
            }
            self.drawn().await;
        }
        panic!("{selector} is built anew or covered {TIMES} times: {value}");
    }

    async fn try_tap(&self, selector: &str) -> Value {
        let element = self
            .command(
                "element",
                json!({"using": "css selector", "value": selector}),
            )
            .await;
        let id = element
            .as_object()
            .and_then(|o| o.values().next())
            .and_then(Value::as_str)
            .unwrap()
            .to_owned();
        self.run(&format!(
            "document.querySelector({}).scrollIntoView({{block: 'center'}})",
            json!(selector)
        ))
        .await;
        self.answer(&format!("element/{id}/click"), &json!({}))
            .await
    }

    pub async fn type_into(&self, selector: &str, text: &str) {
        let element = self
            .command(
                "element",
                json!({"using": "css selector", "value": selector}),
            )
            .await;
        let id = element.as_object().unwrap().values().next().unwrap();
        let path = format!("element/{}/value", id.as_str().unwrap());
        self.command(&path, json!({"text": text})).await;
    }

    pub async fn text(&self, selector: &str) -> String {
        let script = format!(
            "return document.querySelector({})?.innerText ?? ''",
            json!(selector)
        );
        self.run(&script)
            .await
            .as_str()
            .unwrap_or_default()
            .replace('\u{a0}', " ")
    }

    /// What the console said since the last time, warnings and errors only.
    pub async fn complaints(&self) -> Vec<String> {
        let entries = self.command("se/log", json!({"type": "browser"})).await;
        entries
            .as_array()
            .unwrap()
            .iter()
            .filter(|e| e["level"] == "SEVERE" || e["level"] == "WARNING")
            .map(|e| e["message"].to_string())
            .collect()
    }

    /// Addresses that the page asked for since the last time.
    pub async fn requested(&self) -> Vec<String> {
        let entries = self.command("se/log", json!({"type": "performance"})).await;
        entries
            .as_array()
            .unwrap()
            .iter()
            .filter_map(|entry| {
                let message: Value = serde_json::from_str(entry["message"].as_str()?).ok()?;
                let message = &message["message"];
                (message["method"] == "Network.requestWillBeSent")
                    .then(|| {
                        message["params"]["request"]["url"]
                            .as_str()
                            .map(str::to_owned)
                    })
                    .flatten()
            })
            .collect()
    }

    /// What is in the window, as PNG, by the protocol's own command.
    pub async fn window_picture(&self) -> Vec<u8> {
        let url = format!("{}/screenshot", self.session);
        let answer: Value = self
            .http
            .get(url)
            .send()
            .await
            .unwrap()
            .json()
            .await
            .unwrap();
        decode_base64(answer["value"].as_str().unwrap())
    }

    /// The whole page or what is on the screen, as PNG.
    pub async fn picture(&self, whole: bool) -> Vec<u8> {
        let parameters = json!({"format": "png", "captureBeyondViewport": whole});
        let answer = self.devtools("Page.captureScreenshot", parameters).await;
        decode_base64(answer["data"].as_str().unwrap())
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // Asked to end the session, the driver ends its browser, also after a failed test.
        let Some((door, path)) = self
            .session
            .strip_prefix("http://")
            .and_then(|rest| rest.split_once('/'))
        else {
            return;
        };
        if let Ok(mut stream) = std::net::TcpStream::connect(door) {
            let request = format!("DELETE /{path} HTTP/1.1\r\nHost: {door}\r\n\r\n");
            let _ = stream.write_all(request.as_bytes());
            let _ = stream.set_read_timeout(Some(Duration::from_secs(3)));
            let _ = stream.read(&mut [0; 256]);
        }
    }
}

fn quiet(command: &mut Command) -> Child {
    command
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

fn free_port() -> u16 {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    listener.local_addr().unwrap().port()
}

fn decode_base64(text: &str) -> Vec<u8> {
    let value = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        _ => 63,
    };
    let digits: Vec<u8> = text.bytes().filter(|c| *c != b'=').map(value).collect();
    digits
        .chunks(4)
        .flat_map(|chunk| {
            let bits = chunk
                .iter()
                .enumerate()
                .fold(0_u32, |bits, (i, v)| bits | u32::from(*v) << (18 - 6 * i));
            bits.to_be_bytes()[1..chunk.len()].to_vec()
        })
        .collect()
}
