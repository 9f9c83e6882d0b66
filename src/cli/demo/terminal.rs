//! The terminal: taken over while the live table is shown, and given back however that ends.

use super::screen::{Line, Tone};
use crossterm::cursor::{Hide, MoveTo, Show};
use crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers};
use crossterm::style::{Attribute, Print, SetAttribute};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode, size,
};
use crossterm::{execute, queue};
use std::io::{self, Write, stdout};
use std::sync::Once;
use std::time::Duration;
use tokio::sync::mpsc;

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    Acknowledge,
    Quit,
    Redraw,
}

/// The terminal in its special state; dropping this ends that.
#[derive(Debug)]
pub struct Terminal {
    keys: mpsc::Receiver<Key>,
}

static RESTORE_ON_PANIC: Once = Once::new();

impl Terminal {
    pub fn open() -> io::Result<Self> {
        RESTORE_ON_PANIC.call_once(|| {
            let before = std::panic::take_hook();
            std::panic::set_hook(Box::new(move |panic| {
                restore();
                before(panic);
            }));
        });
        enable_raw_mode()?;
        let (sender, keys) = mpsc::channel(16);
        let terminal = Self { keys };
        execute!(stdout(), EnterAlternateScreen, Hide)?;
        std::thread::spawn(move || listen(&sender));
        Ok(terminal)
    }

    /// The next key; none when the keyboard is gone.
    pub async fn key(&mut self) -> Option<Key> {
        self.keys.recv().await
    }

    /// Columns and rows; 80 by 24 where the terminal does not say.
    pub fn size(&self) -> (usize, usize) {
        match size() {
            Ok((width, height)) if width > 0 && height > 0 => (width.into(), height.into()),
            _ => (80, 24),
        }
    }

    /// Draws the lines from the top; what was below them goes.
    pub fn draw(&mut self, lines: &[Line]) -> io::Result<()> {
        let mut out = stdout().lock();
        for (row, line) in (0_u16..).zip(lines) {
            queue!(out, MoveTo(0, row))?;
            match line.tone {
                Tone::Plain => {}
                Tone::Strong => queue!(out, SetAttribute(Attribute::Bold))?,
                Tone::Faint => queue!(out, SetAttribute(Attribute::Dim))?,
                Tone::Alarm => queue!(out, SetAttribute(Attribute::Reverse))?,
            }
            queue!(
                out,
                Print(&line.text),
                SetAttribute(Attribute::Reset),
                Clear(ClearType::UntilNewLine)
            )?;
        }
        queue!(out, Clear(ClearType::FromCursorDown))?;
        out.flush()
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        restore();
    }
}

fn restore() {
    // On the way out there is nobody left to tell.
    let _ = execute!(stdout(), Show, LeaveAlternateScreen);
    let _ = disable_raw_mode();
}

/// Reads keys until nobody wants them any more.
fn listen(keys: &mpsc::Sender<Key>) {
    while !keys.is_closed() {
        let key = match crossterm::event::poll(Duration::from_millis(200)) {
            Ok(true) => crossterm::event::read().map(meaning),
            Ok(false) => continue,
            Err(error) => Err(error),
        };
        match key {
            Ok(Some(key)) => {
                if keys.blocking_send(key).is_err() {
                    return;
                }
            }
            Ok(None) => {}
            Err(_) => return,
        }
    }
}

fn meaning(event: Event) -> Option<Key> {
    match event {
        Event::Key(key) if key.kind == KeyEventKind::Press => match key.code {
            KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => Some(Key::Quit),
            KeyCode::Char('a' | 'A') => Some(Key::Acknowledge),
            KeyCode::Char('q' | 'Q') | KeyCode::Esc => Some(Key::Quit),
            _ => None,
        },
        Event::Resize(..) => Some(Key::Redraw),
        _ => None,
    }
}
