//! A static file server on the loopback address: what any web host does, and nothing more.

use std::fs::File;
use std::io::{self, Error, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};

use tiny_http::{Method, Request, Server};

const THREADS: usize = 4;

/// A folder being served, until it is dropped.
pub struct Site {
    server: Arc<Server>,
    address: SocketAddr,
    mount: String,
    requested: Arc<Mutex<Vec<String>>>,
    threads: Vec<JoinHandle<()>>,
}

impl Site {
    /// Serves `folder` on 127.0.0.1 under the path `mount` (`/` or `/some/path/`); port 0 takes a free one.
    pub fn start(folder: &Path, mount: &str, port: u16) -> Result<Self, Error> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))?;
        let address = listener.local_addr()?;
        let server = Arc::new(Server::from_listener(listener, None).map_err(Error::other)?);
        let requested = Arc::new(Mutex::new(Vec::new()));
        let threads = (0..THREADS)
            .map(|_| {
                let (server, requested) = (Arc::clone(&server), Arc::clone(&requested));
                let (folder, mount) = (folder.to_path_buf(), mount.to_owned());
                thread::spawn(move || {
                    while let Ok(request) = server.recv() {
                        requested
                            .lock()
                            .unwrap_or_else(PoisonError::into_inner)
                            .push(request.url().to_owned());
                        // A browser that has gone away wants no answer.
                        let _ = respond(&folder, &mount, request);
                    }
                })
            })
            .collect();
        Ok(Self { server, address, mount: mount.to_owned(), requested, threads })
    }

    /// Where a browser finds it.
    pub fn url(&self) -> String {
        format!("http://{}{}", self.address, self.mount)
    }

    /// Paths requested so far, in order.
    pub fn requested(&self) -> Vec<String> {
        self.requested.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Serves until the process is ended.
    pub fn serve_forever(mut self) {
        for thread in std::mem::take(&mut self.threads) {
            let _ = thread.join();
        }
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        for _ in &self.threads {
            self.server.unblock();
        }
        for thread in self.threads.drain(..) {
            let _ = thread.join();
        }
    }
}

/// Answers, and lets the browser close the connection: of those it would keep, the server's pool of threads can
/// leave one waiting for ever.
fn respond(folder: &Path, mount: &str, request: Request) -> Result<(), Error> {
    let Answer { status, content_type, length, body } = answer(folder, mount, &request);
    // What is missing now may be there later.
    let is_lasting = status.starts_with("200") && has_its_content_in_its_name(request.url());
    let caching = if is_lasting { "max-age=31536000, immutable" } else { "no-cache" };
    let is_head = *request.method() == Method::Head;
    let mut out = request.into_writer();
    write!(
        out,
        // A page under development must never be yesterday's.
        "HTTP/1.1 {status}\r\nContent-Type: {content_type}\r\nContent-Length: {length}\r\n\
         Cache-Control: {caching}\r\nConnection: close\r\n\r\n"
    )?;
    if !is_head {
        io::copy(&mut body.take(length), &mut out)?;
    }
    out.flush()
}

/// As `page-0123456789abcdef.js`.
fn has_its_content_in_its_name(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or_default();
    let digits = name.split('.').next().and_then(|stem| stem.rsplit_once('-')).map(|(_, digits)| digits);
    digits.is_some_and(|digits| digits.len() == 16 && digits.chars().all(|digit| digit.is_ascii_hexdigit()))
}

struct Answer {
    status: &'static str,
    content_type: &'static str,
    length: u64,
    body: Box<dyn Read>,
}

fn answer(folder: &Path, mount: &str, request: &Request) -> Answer {
    if !matches!(request.method(), Method::Get | Method::Head) {
        return plain("405 Method Not Allowed", "only GET and HEAD");
    }
    let file = request.url().strip_prefix(mount).and_then(relative_file).map(|name| folder.join(name));
    let Some((path, file)) = file.and_then(|path| File::open(&path).ok().map(|file| (path, file))) else {
        return plain("404 Not Found", "not found");
    };
    match file.metadata() {
        Ok(metadata) if metadata.is_file() => Answer {
            status: "200 OK",
            content_type: content_type(&path),
            length: metadata.len(),
            body: Box::new(file),
        },
        _ => plain("404 Not Found", "not found"),
    }
}

fn plain(status: &'static str, text: &'static str) -> Answer {
    let length = text.len() as u64;
    Answer { status, content_type: "text/plain; charset=utf-8", length, body: Box::new(text.as_bytes()) }
}

/// The file that a URL's path means, below the served folder and nowhere else.
fn relative_file(path: &str) -> Option<PathBuf> {
    let path = decode_percent(path.split(['?', '#']).next()?)?;
    let mut file = PathBuf::from(&path);
    if path.is_empty() || path.ends_with('/') {
        file.push("index.html");
    }
    let inside = !path.contains('\\') && file.components().all(|part| matches!(part, Component::Normal(_)));
    inside.then_some(file)
}

fn decode_percent(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((&byte, after)) = rest.split_first() {
        rest = after;
        if byte == b'%' {
            let (digits, after) = after.split_at_checked(2)?;
            bytes.push(u8::from_str_radix(std::str::from_utf8(digits).ok()?, 16).ok()?);
            rest = after;
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).ok()
}

fn content_type(file: &Path) -> &'static str {
    match file.extension().and_then(|extension| extension.to_str()).unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "wasm" => "application/wasm",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "json" => "application/json",
        "webmanifest" => "application/manifest+json",
        "csv" => "text/csv; charset=utf-8",
        "txt" | "md" => "text/plain; charset=utf-8",
        "gpx" => "application/gpx+xml",
        "mp4" => "video/mp4",
        "webm" => "video/webm",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use std::io::ErrorKind;
    use std::net::TcpStream;

    use super::*;

    fn get(site: &Site, target: &str) -> String {
        let mut stream = TcpStream::connect(site.address).unwrap();
        write!(stream, "GET {target} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n").unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    #[test]
    fn serves_files_with_their_types_below_the_mount_only_and_one_site_a_port() {
        let folder = std::env::temp_dir().join(format!("evenkeel-site-{}", std::process::id()));
        std::fs::create_dir_all(folder.join("in side")).unwrap();
        std::fs::write(folder.join("index.html"), "home").unwrap();
        std::fs::write(folder.join("in side/a.wasm"), "\0asm").unwrap();
        let site = Site::start(&folder, "/at/", 0).unwrap();

        let home = get(&site, "/at/?query");
        assert!(home.starts_with("HTTP/1.1 200") && home.ends_with("home"), "{home}");
        assert!(home.contains("Content-Type: text/html; charset=utf-8"), "{home}");
        assert!(get(&site, "/at/in%20side/a.wasm").contains("Content-Type: application/wasm"));
        for missing in ["/", "/at/in%20side", "/at/no.js", "/at/%2e%2e/Cargo.toml", "/at/%zz"] {
            assert!(get(&site, missing).starts_with("HTTP/1.1 404"), "{missing}");
        }
        let taken = Site::start(&folder, "/", site.address.port()).err().map(|error| error.kind());
        assert_eq!(taken, Some(ErrorKind::AddrInUse));
        assert_eq!(site.requested()[..2], ["/at/?query", "/at/in%20side/a.wasm"]);
        drop(site);
        std::fs::remove_dir_all(folder).unwrap();
    }

    #[test]
    fn no_path_leaves_the_folder() {
        for path in
            ["../secret", "a/../../secret", "%2e%2e/secret", "/etc/passwd", "..%5csecret", "%2fetc/passwd"]
        {
            assert_eq!(relative_file(path), None, "{path}");
        }
        assert_eq!(relative_file("a/b.js?v=1#x"), Some(PathBuf::from("a/b.js")));
        assert_eq!(relative_file(""), Some(PathBuf::from("index.html")));
    }
}
