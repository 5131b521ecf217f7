//! The sockets: a listener on this machine alone, the guards in front of every page, and the way to the room's thread.

use std::convert::Infallible;
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::multipart::MultipartError;
use axum::extract::{DefaultBodyLimit, Form, Multipart, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, Request, StatusCode, Uri};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::csrf::CsrfLayer;
use tower_http::limit::RequestBodyLimitLayer;
use tower_http::timeout::TimeoutLayer;

use super::answer::{Answer, Ask};
use super::form::save::Fields;
use super::press::Press;
use super::room::Room;
use super::routes::{self, Reply};
use super::thread::{Failed, Thread};
use crate::verify;

/// Largest body that is taken, bytes: a case with every field filled is a tenth of it.
const BODY: usize = 256 * 1024;

/// The same where a file is chosen, bytes: one that is verified, and what stands around it in a form.
const FILE: usize = verify::LARGEST + 64 * 1024;

/// Longest that a page may take. Common practice, no source.
const PAGE: Duration = Duration::from_secs(60);

/// Longest that a connection may take to say what it asks for; one that asks for nothing ends then. Common practice, no
/// source.
const HEAD: Duration = Duration::from_secs(10);

/// How long to wait when the machine has no connection to give, as when too many files are open.
const PAUSE: Duration = Duration::from_millis(200);

/// Most connections at once; the next one waits.
const CONNECTIONS: usize = 64;

/// What each answer says about itself. A page runs no script but ours, loads nothing from elsewhere, stands in no frame and
/// is kept by nobody.
const HEADERS: [(HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; \
         base-uri 'none'; frame-ancestors 'none'",
    ),
    (header::CACHE_CONTROL, "no-store"),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    // With `no-referrer` a browser would hide the origin of our own forms too.
    (header::REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
];

/// What every request is answered with.
#[derive(Clone)]
struct Shared {
    room: Thread<Room>,
    press: Thread<Press>,
    /// The only name under which this desk answers.
    host: Arc<str>,
    cookie: Arc<str>,
}

/// A listener of this machine alone: at the port that is wanted if it is free, else at any.
pub(super) fn bind(wanted: Option<u16>, remembered: Option<u16>) -> io::Result<std::net::TcpListener> {
    let at = |port: u16| std::net::TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, port)));
    let listener = match (wanted, remembered) {
        (Some(port), _) => at(port)?,
        (None, Some(port)) => at(port).or_else(|_| at(0))?,
        (None, None) => at(0)?,
    };
    listener.set_nonblocking(true)?;
    Ok(listener)
}

/// Answers until `stop` says so.
pub(super) fn serve(listener: std::net::TcpListener, room: Room, stop: impl Fn() -> bool) -> io::Result<()> {
    let port = listener.local_addr()?.port();
    let (room, closed) = Thread::start("register", room)?;
    let (press, _) = Thread::start("layout", Press::default())?;
    let shared =
        Shared { room, press, host: format!("127.0.0.1:{port}").into(), cookie: format!("vitreoleaf-{port}").into() };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    let stopped = runtime.block_on(async {
        // Of many cases it takes a while, in which people sign in.
        let ahead = shared.room.clone();
        tokio::spawn(async move { ahead.ask(|room| room.register.counted(room.today()).map(|_| ())).await });
        let listener = TcpListener::from_std(listener)?;
        tokio::select! {
            never = connections(listener, router(shared)) => match never {},
            () = asked(stop) => Ok(()),
        }
    });
    runtime.shutdown_timeout(Duration::from_secs(2));
    // Everybody who asked is gone now; a register that is closed is one file, whole, to be copied.
    let _ = closed.join();
    stopped
}

/// Takes so many connections at once.
async fn connections(listener: TcpListener, router: Router) -> Infallible {
    let places = Arc::new(Semaphore::new(CONNECTIONS));
    loop {
        let place = Arc::clone(&places).acquire_owned().await; // it is never closed
        let Ok((stream, _)) = listener.accept().await else {
            tokio::time::sleep(PAUSE).await;
            continue;
        };
        let service = TowerToHyperService::new(router.clone());
        let mut http = http1::Builder::new();
        let connection =
            http.timer(TokioTimer::new()).header_read_timeout(HEAD).serve_connection(TokioIo::new(stream), service);
        tokio::spawn(async move {
            let _ = connection.await; // whoever broke it off knows
            drop(place);
        });
    }
}

async fn asked(stop: impl Fn() -> bool) {
    while !stop() {
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

fn router(shared: Shared) -> Router {
    let files = Router::new()
        .route("/verify", get(page).post(with_file))
        .route("/take-in", get(page).post(with_file))
        .layer(DefaultBodyLimit::disable())
        .layer(RequestBodyLimitLayer::new(FILE));
    Router::new()
        .fallback(page)
        .layer(RequestBodyLimitLayer::new(BODY))
        .merge(files)
        .with_state(shared.clone())
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, PAGE))
        .layer(CsrfLayer::new())
        .layer(CatchPanicLayer::custom(|_: Box<dyn std::any::Any + Send>| failed()))
        .layer(middleware::from_fn_with_state(shared, guard))
}

/// In front of everything: the exact name of this desk, also for what only reads, since another name may lead to this
/// address; and no method but two.
async fn guard(State(shared): State<Shared>, request: Request<Body>, next: Next) -> Response {
    let hosts: Vec<_> = request.headers().get_all(header::HOST).iter().collect();
    let named = matches!(hosts[..], [host] if host.as_bytes() == shared.host.as_bytes());
    let mut response = if !named || request.uri().authority().is_some() {
        sentence(StatusCode::MISDIRECTED_REQUEST, "the desk answers at its own address only")
    } else if !matches!(*request.method(), Method::GET | Method::POST) {
        sentence(StatusCode::METHOD_NOT_ALLOWED, "the desk reads and takes forms, nothing else")
    } else {
        next.run(request).await
    };
    for (name, value) in HEADERS {
        response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
}

async fn page(
    State(shared): State<Shared>,
    method: Method,
    uri: Uri,
    headers: HeaderMap,
    form: Result<Form<Vec<(String, String)>>, axum::extract::rejection::FormRejection>,
) -> Response {
    let fields = match form {
        Ok(Form(fields)) => fields.into_iter().collect(),
        Err(refused) => return sentence(refused.status(), "the desk does not take this"),
    };
    let ask = Ask {
        is_post: method == Method::POST,
        path: path(&uri),
        fields,
        file: None,
        cookie: cookie(&headers, &shared.cookie),
    };
    to(shared, ask).await
}

/// A form with a file.
async fn with_file(State(shared): State<Shared>, uri: Uri, headers: HeaderMap, parts: Multipart) -> Response {
    let (fields, file) = match read(parts).await {
        Ok(read) => read,
        Err(refused) => return sentence(refused.status(), "the desk takes one file here, and none that is so large"),
    };
    let ask = Ask { is_post: true, path: path(&uri), fields, file, cookie: cookie(&headers, &shared.cookie) };
    to(shared, ask).await
}

/// The fields of a form, and the file among them.
async fn read(mut parts: Multipart) -> Result<(Fields, Option<Vec<u8>>), MultipartError> {
    let (mut fields, mut file) = (Fields::new(), None);
    while let Some(part) = parts.next_field().await? {
        let name = part.name().unwrap_or_default().to_owned();
        match part.file_name() {
            Some(_) => file = Some(part.bytes().await?.to_vec()),
            None => _ = fields.insert(name, part.text().await?),
        }
    }
    Ok((fields, file))
}

/// The address, part by part.
fn path(uri: &Uri) -> Vec<String> {
    uri.path().split('/').filter(|part| !part.is_empty()).map(str::to_owned).collect()
}

async fn to(shared: Shared, ask: Ask) -> Response {
    match answered(&shared, ask).await {
        Ok(answer) => response(answer, &shared.cookie),
        Err(Failed) => failed(),
    }
}

async fn answered(shared: &Shared, ask: Ask) -> Result<Answer, Failed> {
    match shared.room.ask(|room| routes::answer(room, ask)).await? {
        Reply::Done(answer) => Ok(answer),
        Reply::Batch(answer) => {
            tokio::spawn(issue_all(shared.clone()));
            Ok(answer)
        }
        Reply::Issue(order) => {
            let (order, made) =
                shared.press.ask(|press| (press.make(&order), order)).await.map(|(made, order)| (order, made))?;
            shared.room.ask(move |room| routes::issued(room, &order, made)).await
        }
        Reply::Verify(visit, bytes) => {
            let read = shared.press.ask(move |_| verify::Received::read(bytes)).await?;
            shared.room.ask(move |room| routes::verified(room, &visit, read)).await
        }
        Reply::Proof(visit, wanted) => {
            let made = match wanted {
                Some(wanted) => Some(shared.press.ask_while_wanted(move |press| press.proof(&wanted)).await?),
                None => None,
            };
            shared.room.ask(move |room| routes::proof(room, &visit, made)).await
        }
        Reply::Suitability(draft, at) => {
            let made = shared.press.ask_while_wanted(move |_| Press::suitability(&draft, at)).await?;
            shared.room.ask(move |room| routes::sheet(room, made)).await
        }
        Reply::Page(wanted, which) => {
            let made = shared.press.ask_while_wanted(move |press| press.page(&wanted, which)).await?;
            Ok(made.map_or_else(
                || Answer::bytes(404, "text/plain", Vec::new()),
                |svg| Answer::bytes(200, "image/svg+xml", svg.into_bytes()),
            ))
        }
    }
}

/// Issues what the batch holds, one case after the other; between two of them others get their pages.
async fn issue_all(shared: Shared) {
    loop {
        let done = match shared.room.ask(routes::next_of_batch).await {
            Ok(None) => return,
            Ok(Some(order)) => match shared.press.ask(move |press| (press.make(&order), order)).await {
                Ok((made, order)) => shared.room.ask(move |room| routes::made_of_batch(room, &order, made)).await,
                Err(failed) => Err(failed),
            },
            Err(failed) => Err(failed),
        };
        if done.is_err() && shared.room.ask(routes::failed_in_batch).await.is_err() {
            return;
        }
    }
}

/// The value of a cookie.
fn cookie(headers: &HeaderMap, name: &str) -> Option<String> {
    let cookies = headers.get_all(header::COOKIE).iter().filter_map(|cookies| cookies.to_str().ok());
    let pairs = cookies.flat_map(|cookies| cookies.split(';')).filter_map(|cookie| cookie.trim().split_once('='));
    pairs.into_iter().find(|(key, _)| *key == name).map(|(_, value)| value.to_owned())
}

fn response(answer: Answer, cookie: &str) -> Response {
    let mut response = Response::new(Body::from(answer.body));
    *response.status_mut() = StatusCode::from_u16(answer.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let mut set = |name: HeaderName, text: &str| {
        if let Ok(value) = HeaderValue::from_str(text) {
            response.headers_mut().insert(name, value);
        }
    };
    set(header::CONTENT_TYPE, answer.media);
    if let Some(to) = answer.location {
        set(header::LOCATION, &to);
    }
    if let Some(value) = answer.cookie {
        set(header::SET_COOKIE, &format!("{cookie}={value}; HttpOnly; SameSite=Strict; Path=/"));
    }
    if let Some(file) = answer.file {
        set(header::CONTENT_DISPOSITION, &format!("inline; filename=\"{file}\""));
        // The browser's own viewer of documents brings its own style and script.
        set(header::CONTENT_SECURITY_POLICY, "default-src 'self' 'unsafe-inline'; frame-ancestors 'none'");
    }
    response
}

fn sentence(status: StatusCode, says: &'static str) -> Response {
    (status, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], says).into_response()
}

/// What a request gets that made the program panic: nothing of what it was about.
fn failed() -> Response {
    sentence(
        StatusCode::INTERNAL_SERVER_ERROR,
        "something went wrong in the program; what was saved is safe: go back and try again",
    )
}
