//! As much of a WebSocket (RFC 6455) as a test needs: text to and fro.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

pub struct Socket(BufReader<TcpStream>);

/// Kinds of frames, section 5.2.
const TEXT: u8 = 1;
const CLOSE: u8 = 8;
const PING: u8 = 9;
const PONG: u8 = 10;
/// The last frame of a message; a frame that is masked.
const LAST: u8 = 0x80;
const MASKED: u8 = 0x80;
/// Any will do but zeros, which Firefox takes for none.
const MASK: [u8; 4] = [1, 2, 3, 4];

impl Socket {
    /// Opens `path` on this machine.
    pub fn open(port: u16, path: &str) -> Self {
        let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(120))).unwrap();
        // Any sixteen bytes do as a key.
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\
             Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: MDEyMzQ1Njc4OWFiY2RlZg==\r\n\r\n"
        )
        .unwrap();
        let mut reader = BufReader::new(stream);
        let mut lines = reader.by_ref().lines().map(Result::unwrap);
        let status = lines.next().unwrap_or_default();
        assert!(status.contains(" 101 "), "the browser opens no socket: {status}");
        lines.find(String::is_empty);
        Self(reader)
    }

    pub fn send(&mut self, text: &str) {
        self.frame(TEXT, text.as_bytes());
    }

    /// The next message.
    pub fn receive(&mut self) -> String {
        let mut message = Vec::new();
        loop {
            let (kind, last, bytes) = self.next();
            match kind {
                CLOSE => panic!("the browser closed the socket"),
                PING => self.frame(PONG, &bytes),
                PONG => {}
                _ => {
                    message.extend(bytes);
                    if last {
                        return String::from_utf8(message).unwrap();
                    }
                }
            }
        }
    }

    fn frame(&mut self, kind: u8, bytes: &[u8]) {
        let mut frame = vec![LAST | kind];
        match u16::try_from(bytes.len()) {
            Ok(length) if length < 126 => frame.push(MASKED | length as u8),
            Ok(length) => {
                frame.push(MASKED | 126);
                frame.extend(length.to_be_bytes());
            }
            Err(_) => {
                frame.push(MASKED | 127);
                frame.extend((bytes.len() as u64).to_be_bytes());
            }
        }
        frame.extend(MASK);
        frame.extend(bytes.iter().zip(MASK.iter().cycle()).map(|(byte, mask)| byte ^ mask));
        self.0.get_mut().write_all(&frame).unwrap();
    }

    fn next(&mut self) -> (u8, bool, Vec<u8>) {
        let [head, length] = self.bytes::<2>();
        let length = match length {
            126 => u64::from(u16::from_be_bytes(self.bytes())),
            127 => u64::from_be_bytes(self.bytes()),
            length => u64::from(length),
        };
        let mut bytes = vec![0; length as usize];
        self.0.read_exact(&mut bytes).unwrap();
        (head & 0x0f, head & LAST != 0, bytes)
    }

    fn bytes<const N: usize>(&mut self) -> [u8; N] {
        let mut bytes = [0; N];
        self.0.read_exact(&mut bytes).unwrap();
        bytes
    }
}
