//! Layout files of a practice's own are programs that nobody has looked at: one may run forever or fill the memory. They
//! run in a process apart, the same program over again, with limits of time and memory.
//!
//! The request is a line of JSON and then the bytes of the fonts; the answer is a line of JSON and then the PDF.

use std::collections::BTreeMap;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::error::{Exceeded, RenderError};
use super::fonts::Fonts;
use super::layout::{self, Made, Wanted};
use super::world::Shared;
use crate::assets::Assets;

/// The hidden command of the program that calls [`answer`].
pub const COMMAND: &str = "lay-out-apart";

/// Longest answer that is read, bytes: a page set holds some hundred thousand.
const LONGEST: u64 = 64 << 20;

/// How often the process apart looks at what it has used.
const LOOK: Duration = Duration::from_millis(5);

/// The parent waits this much longer than the process apart gives itself.
const GRACE: Duration = Duration::from_secs(2);

/// What the layout of one page set may use. Built-in layout files take under a second and 100 MB.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub struct Limits {
    /// Time from start to end.
    pub time: Duration,
    /// Memory that the process apart holds, bytes.
    pub memory: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self { time: Duration::from_secs(20), memory: 512 << 20 }
    }
}

/// The layout files and fonts of a practice's own, to be laid out apart.
pub(super) struct Apart {
    /// What is started; left out: this program.
    pub(super) program: Option<PathBuf>,
    pub(super) limits: Limits,
    layout: BTreeMap<String, String>,
    fonts: BTreeMap<String, Vec<u8>>,
}

#[derive(Serialize, Deserialize)]
struct Request {
    limits: Limits,
    /// Text of each layout file by its path.
    layout: BTreeMap<String, String>,
    /// Path and length of each font.
    fonts: Vec<(String, u64)>,
    document: Value,
    wanted: Wanted,
}

impl Apart {
    /// None when the practice has no layout files of its own.
    pub(super) fn of(assets: &Assets) -> Option<Self> {
        let own = assets.own().filter(|path| path.starts_with(super::world::PAGES));
        let layout: BTreeMap<_, _> =
            own.filter_map(|path| Some((path.to_owned(), assets.get(path)?.into_owned()))).collect();
        let fonts = assets.fonts().map(|(path, data)| (path.to_owned(), data.clone())).collect();
        (!layout.is_empty()).then_some(Self { program: None, limits: Limits::default(), layout, fonts })
    }

    /// The built-in layout files with the fonts of the practice's own.
    pub(super) fn built_in(&self, fonts: &Fonts) -> Shared {
        Shared::new(&Assets::default().with_fonts(self.fonts.clone()), fonts)
    }

    /// Lays out the data of a page set.
    pub(super) fn make(&self, document: Value, wanted: Wanted) -> Result<Made, RenderError> {
        let fonts = self.fonts.iter().map(|(path, data)| (path.clone(), data.len() as u64)).collect();
        let request = Request { limits: self.limits, layout: self.layout.clone(), fonts, document, wanted };
        let refused = |why| RenderError::Apart { files: self.layout.keys().cloned().collect(), why };
        let mut child = self.start().map_err(|_| refused(Exceeded::Failed))?;
        let answer = self.exchange(&mut child, &request);
        let timed_out = answer.is_none();
        let code = child.wait().ok().and_then(|status| status.code());
        match (code, answer.and_then(Result::ok)) {
            (Some(0), Some(answer)) => read(&answer).unwrap_or_else(|| Err(refused(Exceeded::Failed))),
            (code, _) if timed_out || code == Some(Exceeded::Time.code()) => Err(refused(Exceeded::Time)),
            (code, _) if code == Some(Exceeded::Memory.code()) => Err(refused(Exceeded::Memory)),
            _ => Err(refused(Exceeded::Failed)),
        }
    }

    fn start(&self) -> io::Result<Child> {
        let program = self.program.clone().map_or_else(std::env::current_exe, Ok)?;
        let mut command = Command::new(program);
        command.arg(COMMAND).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn()
    }

    /// Asks, and waits for the answer; none when the time is over.
    fn exchange(&self, child: &mut Child, request: &Request) -> Option<io::Result<Vec<u8>>> {
        let (stdin, stdout) = (child.stdin.take()?, child.stdout.take()?);
        let (sent, answer) = mpsc::channel();
        thread::scope(|scope| {
            scope.spawn(move || sent.send(self.ask(stdin, stdout, request)));
            let answer = answer.recv_timeout(self.limits.time + GRACE).ok();
            if answer.is_none() {
                let _ = child.kill(); // its streams close, which ends the thread
            }
            answer
        })
    }

    fn ask(&self, mut stdin: ChildStdin, stdout: ChildStdout, request: &Request) -> io::Result<Vec<u8>> {
        serde_json::to_writer(&mut stdin, request)?;
        stdin.write_all(b"\n")?;
        self.fonts.values().try_for_each(|data| stdin.write_all(data))?;
        drop(stdin);
        let mut answer = Vec::new();
        stdout.take(LONGEST).read_to_end(&mut answer)?;
        Ok(answer)
    }
}

/// None when it is no answer.
fn read(answer: &[u8]) -> Option<Result<Made, RenderError>> {
    let end = answer.iter().position(|byte| *byte == b'\n')?;
    let made: Result<Made, RenderError> = serde_json::from_slice(&answer[..end]).ok()?;
    Some(made.map(|made| Made { pdf: answer[end + 1..].to_vec(), ..made }))
}

/// The other side: reads a request, lays out, writes the answer. `over` is called as soon as a limit is exceeded, from a
/// thread of its own, and must end the process with the [code](Exceeded::code) of what it is given.
///
/// # Errors
/// A request that cannot be read, or an answer that cannot be written.
pub fn answer(input: impl Read, mut output: impl Write, over: fn(Exceeded)) -> io::Result<()> {
    let mut input = BufReader::new(input);
    let mut line = String::new();
    input.read_line(&mut line)?;
    let request: Request = serde_json::from_str(&line)?;
    let mut fonts = BTreeMap::new();
    for (path, length) in request.fonts {
        let mut data = Vec::new();
        (&mut input).take(length).read_to_end(&mut data)?;
        fonts.insert(path, data);
    }
    watch(request.limits, over);
    let assets = Assets::new(request.layout).with_fonts(fonts);
    let fonts = Fonts::of(&assets).map_err(io::Error::other)?;
    let made = layout::make(&Shared::new(&assets, &fonts), &request.document, &request.wanted);
    serde_json::to_writer(&mut output, &made)?;
    output.write_all(b"\n")?;
    made.map_or(Ok(()), |made| output.write_all(&made.pdf))?;
    output.flush()
}

/// Looks at time and memory until a limit is exceeded. Memory that cannot be seen counts as too much.
fn watch(limits: Limits, over: fn(Exceeded)) {
    let start = Instant::now();
    thread::spawn(move || {
        loop {
            if start.elapsed() > limits.time {
                over(Exceeded::Time);
            }
            if memory_stats::memory_stats().is_none_or(|used| used.physical_mem > limits.memory) {
                over(Exceeded::Memory);
            }
            thread::sleep(LOOK);
        }
    });
}
