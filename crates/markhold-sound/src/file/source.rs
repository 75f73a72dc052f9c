//! Bytes to read from, with a look ahead.

use std::io::{self, Read};

/// How many bytes are looked at to tell what the content is.
const HEAD: usize = 256;

/// A stream of bytes whose beginning can be looked at before it is read.
pub(super) struct ByteSource {
    inner: Box<dyn Read + Send>,
    head: Vec<u8>,
    head_at: usize,
    length: Option<u64>,
}

impl ByteSource {
    /// Wraps `inner`; `length` is the number of bytes in it where that is known.
    pub(super) fn new(inner: Box<dyn Read + Send>, length: Option<u64>) -> Self {
        ByteSource {
            inner,
            head: Vec::new(),
            head_at: 0,
            length,
        }
    }

    /// The first bytes, at most 256, without taking them.
    ///
    /// Waits on a pipe until they are there or the pipe ends.
    pub(super) fn peek(&mut self) -> io::Result<&[u8]> {
        if self.head.is_empty() {
            let mut head = vec![0; HEAD];
            let got = read_full(&mut self.inner, &mut head)?;
            head.truncate(got);
            self.head = head;
        }
        Ok(&self.head[self.head_at..])
    }

    /// Bytes in the whole source, where known (a file, not a pipe).
    pub(super) fn length(&self) -> Option<u64> {
        self.length
    }
}

impl Read for ByteSource {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let ahead = &self.head[self.head_at..];
        if ahead.is_empty() {
            return self.inner.read(out);
        }
        let count = ahead.len().min(out.len());
        out[..count].copy_from_slice(&ahead[..count]);
        self.head_at += count;
        Ok(count)
    }
}

/// Reads until `out` is full or the input ends; returns how many bytes were read.
pub(super) fn read_full(input: &mut impl Read, out: &mut [u8]) -> io::Result<usize> {
    let mut filled = 0;
    while filled < out.len() {
        match input.read(&mut out[filled..]) {
            Ok(0) => break,
            Ok(count) => filled += count,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(filled)
}

/// Reads and drops `count` bytes; returns how many there were.
pub(super) fn skip(input: &mut impl Read, count: u64) -> io::Result<u64> {
    io::copy(&mut input.take(count), &mut io::sink())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives one byte at a time and is interrupted before each, as a pipe may be.
    struct Drip(Vec<u8>, bool);

    impl Read for Drip {
        fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
            self.1 = !self.1;
            if self.1 {
                return Err(io::ErrorKind::Interrupted.into());
            }
            if self.0.is_empty() || out.is_empty() {
                return Ok(0);
            }
            out[0] = self.0.remove(0);
            Ok(1)
        }
    }

    #[test]
    fn peeking_takes_nothing() {
        let bytes: Vec<u8> = (0..=255).chain(0..100).collect();
        let mut source = ByteSource::new(Box::new(Drip(bytes.clone(), false)), None);
        assert_eq!(source.peek().unwrap(), &bytes[..HEAD]);
        assert_eq!(source.peek().unwrap(), &bytes[..HEAD]);
        let mut all = vec![0; 400];
        let got = read_full(&mut source, &mut all).unwrap();
        assert_eq!(all[..got], bytes);
    }

    #[test]
    fn skipping_past_the_end_says_how_far_it_came() {
        let mut source = ByteSource::new(Box::new(&[1u8, 2, 3][..]), Some(3));
        source.peek().unwrap();
        assert_eq!(skip(&mut source, u64::MAX).unwrap(), 3);
    }
}
