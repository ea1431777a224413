//! What the page, its workers and the browser did behind the screen.

use xtask::site::Site;

use super::Browser;

/// What the page, or the browser about the page, wrote on the console.
#[derive(Clone, Debug)]
pub struct Message {
    /// `SEVERE` for errors, uncaught ones, refused and failed requests; `WARNING`, `INFO`, `DEBUG`.
    pub level: String,
    /// Place and text.
    pub text: String,
}

impl Browser {
    /// Everything on the console since the browser started.
    pub fn console(&self) -> Vec<Message> {
        let fresh = self.runtime.block_on(self.driver().browser_log()).unwrap_or_default();
        let fresh = fresh.into_iter().map(|entry| Message { level: entry.level, text: entry.message });
        self.console.borrow_mut().extend(fresh);
        self.console.borrow().clone()
    }

    /// Panics if the page reported an error, caught one nowhere, or was refused anything.
    pub fn assert_no_errors(&self) {
        let errors: Vec<_> = self.console().into_iter().filter(|message| message.level == "SEVERE").collect();
        assert!(errors.is_empty(), "the console shows errors: {errors:#?}");
    }

    /// Requests to any host but this machine, by page, workers and browser alike; none arrived there.
    pub fn requests_elsewhere(&self) -> Vec<String> {
        self.elsewhere.requests()
    }

    /// Paths that were requested from the site, by page and workers alike.
    pub fn requests(&self) -> Vec<String> {
        self.site.as_ref().map(Site::requested).unwrap_or_default()
    }

    /// Panics if anything was requested from another machine.
    pub fn assert_nothing_elsewhere(&self) {
        let requests = self.requests_elsewhere();
        assert!(requests.is_empty(), "something left for other machines: {requests:#?}");
    }
}
