//! Every other machine, for the browser: a proxy that writes down what was asked for and lets nothing through.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;

/// Hosts that Chromium calls of its own accord, flags or no flags: before it shows any page, and about
/// forms in it (as seen with Debian's build). A page's calls to them go unseen; no page of ours has reason to make any.
const THE_BROWSERS_OWN: [&str; 6] = [
    "accounts.google.com",
    "clients2.google.com",
    "content-autofill.googleapis.com",
    "optimizationguide-pa.googleapis.com",
    "start.duckduckgo.com",
    "update.googleapis.com",
];

pub struct Elsewhere {
    address: SocketAddr,
    requests: Arc<Mutex<Vec<String>>>,
    ended: Arc<AtomicBool>,
}

impl Elsewhere {
    pub fn listen() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let requests = Arc::new(Mutex::new(Vec::new()));
        let ended = Arc::new(AtomicBool::new(false));
        let (into, end) = (Arc::clone(&requests), Arc::clone(&ended));
        thread::spawn(move || {
            for stream in listener.incoming() {
                if end.load(Ordering::Relaxed) {
                    return;
                }
                if let Some(request) = stream.ok().and_then(|stream| refuse(&stream))
                    && !THE_BROWSERS_OWN.contains(&host(&request))
                {
                    into.lock().unwrap().push(request);
                }
            }
        });
        Self { address, requests, ended }
    }

    pub fn address(&self) -> SocketAddr {
        self.address
    }

    pub fn requests(&self) -> Vec<String> {
        self.requests.lock().unwrap().clone()
    }
}

impl Drop for Elsewhere {
    fn drop(&mut self) {
        self.ended.store(true, Ordering::Relaxed);
        // Wakes the thread, which then sees that it is over.
        let _ = TcpStream::connect(self.address);
    }
}

/// Reads `METHOD target HTTP/1.1` and answers that there is no way.
fn refuse(mut stream: &TcpStream) -> Option<String> {
    stream.set_read_timeout(Some(std::time::Duration::from_secs(2))).ok()?;
    let mut line = String::new();
    BufReader::new(stream.take(8192)).read_line(&mut line).ok()?;
    let _ = stream.write_all(b"HTTP/1.1 403 Forbidden\r\nContent-Length: 0\r\nConnection: close\r\n\r\n");
    let request = line.trim_end().trim_end_matches(" HTTP/1.1");
    (!request.is_empty()).then(|| request.to_owned())
}

/// The host in `CONNECT host:443` or `GET http://host/path`.
fn host(request: &str) -> &str {
    let target = request.split_once(' ').map_or("", |(_, target)| target);
    let authority = target.split_once("://").map_or(target, |(_, rest)| rest);
    authority.split(['/', ':', '?']).next().unwrap_or_default()
}

#[test]
fn reads_the_host_of_a_request() {
    assert_eq!(host("CONNECT a.example:443"), "a.example");
    assert_eq!(host("GET http://b.example/path?c=http://a.example"), "b.example");
    assert_eq!(host("nonsense"), "");
}
