//! Who may ask: this machine, this page, whoever has the token.
//!
//! A page of another site that is open in the same browser can send requests
//! to this address, and by a name that it points here even from its own
//! origin. So the address that the request names and the origin that it comes
//! from are looked at, and nothing is answered without a secret that only the
//! person who started the program was shown.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::header::{
    AUTHORIZATION, COOKIE, HOST, HeaderValue, LOCATION, ORIGIN, REFERRER_POLICY, SET_COOKIE,
};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use subtle::ConstantTimeEq;

use crate::api::problem::Problem;

/// A secret of 256 bits from the system's generator, as 64 hexadecimal digits.
#[derive(Clone)]
pub struct Token(String);

impl Token {
    /// A new one.
    ///
    /// # Errors
    /// The system has no random numbers to give.
    pub fn generate() -> Result<Self, getrandom::Error> {
        let mut bytes = [0u8; 32];
        getrandom::fill(&mut bytes)?;
        Ok(Self(crate::workspace::hex(&bytes)))
    }

    /// The secret itself, for the opening address.
    pub fn reveal(&self) -> &str {
        &self.0
    }

    /// Whether a text is the secret; takes as long whatever it is.
    fn is(&self, text: &str) -> bool {
        self.0.as_bytes().ct_eq(text.as_bytes()).into()
    }
}

impl std::fmt::Debug for Token {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Token(secret)")
    }
}

/// What every request is held against.
#[derive(Debug)]
pub(crate) struct Guard {
    token: Token,
    /// Names of this address, each with the port.
    hosts: Vec<String>,
    /// Name of the cookie. Browsers share cookies between the ports of a
    /// machine, so that it has the port in it.
    cookie: String,
    policy: HeaderValue,
}

impl Guard {
    pub(crate) fn new(token: Token, port: u16, tile_address: Option<&str>) -> Self {
        let names = ["127.0.0.1", "localhost", "[::1]"];
        Self {
            token,
            hosts: names.map(|name| format!("{name}:{port}")).to_vec(),
            cookie: format!("mastwright-{port}"),
            policy: policy(tile_address),
        }
    }

    fn names_this_machine(&self, headers: &HeaderMap) -> bool {
        let Some(host) = one(headers, HOST.as_str()) else {
            return false;
        };
        self.hosts.iter().any(|own| own.eq_ignore_ascii_case(host))
    }

    /// A request that says where it comes from must come from here; one that
    /// changes something and carries the cookie must say so or be no page's.
    fn comes_from_here(&self, headers: &HeaderMap) -> bool {
        if headers.contains_key(ORIGIN) {
            let origin = one(headers, ORIGIN.as_str()).and_then(|o| o.strip_prefix("http://"));
            return origin
                .is_some_and(|o| self.hosts.iter().any(|own| own.eq_ignore_ascii_case(o)));
        }
        match headers.get("sec-fetch-site").map(HeaderValue::as_bytes) {
            None | Some(b"same-origin" | b"none") => true,
            Some(_) => false,
        }
    }

    fn has_token(&self, headers: &HeaderMap) -> bool {
        let bearer = one(headers, AUTHORIZATION.as_str());
        let bearer = bearer.and_then(|value| value.strip_prefix("Bearer "));
        if bearer.is_some_and(|secret| self.token.is(secret.trim())) {
            return true;
        }
        let cookies = headers.get_all(COOKIE).into_iter();
        let cookies = cookies.filter_map(|value| value.to_str().ok());
        cookies
            .flat_map(|line| line.split(';'))
            .filter_map(|pair| pair.trim().split_once('='))
            .any(|(name, secret)| name == self.cookie && self.token.is(secret))
    }

    /// The secret of the opening address, where the request is for that.
    fn opens(&self, request: &Request) -> Option<bool> {
        let is_opening = request.uri().path() == "/open" && request.method() == Method::GET;
        let query = request.uri().query().filter(|_| is_opening)?;
        let secret = query
            .split('&')
            .find_map(|pair| pair.strip_prefix("token="));
        Some(secret.is_some_and(|secret| self.token.is(secret)))
    }

    fn opened(&self) -> Response {
        let cookie = format!(
            "{}={}; Path=/; HttpOnly; SameSite=Strict",
            self.cookie,
            self.token.reveal()
        );
        let headers = [(LOCATION, "/".to_owned()), (SET_COOKIE, cookie)];
        (StatusCode::SEE_OTHER, headers).into_response()
    }
}

/// A header that stands once and is text.
fn one<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let mut values = headers.get_all(name).into_iter();
    match (values.next(), values.next()) {
        (Some(value), None) => value.to_str().ok(),
        _ => None,
    }
}

/// Lets a request in, or tells why not.
pub(crate) async fn let_in(
    State(guard): State<Arc<Guard>>,
    request: Request,
    next: Next,
) -> Response {
    let refused = |code, message: &str| Problem::new(StatusCode::FORBIDDEN, code, message);
    let headers = request.headers();
    let response = if !guard.names_this_machine(headers) {
        refused(
            "wrong-host",
            "this address is answered under its own name only",
        )
        .into_response()
    } else if let Some(may_open) = guard.opens(&request) {
        if may_open {
            guard.opened()
        } else {
            no_token().into_response()
        }
    } else if !guard.comes_from_here(headers) {
        refused("wrong-origin", "another page cannot ask here").into_response()
    } else if !guard.has_token(headers) {
        no_token().into_response()
    } else {
        next.run(request).await
    };
    with_headers(response, &guard.policy)
}

fn no_token() -> Problem {
    Problem::new(
        StatusCode::UNAUTHORIZED,
        "no-token",
        "the address is closed\nhint: open the address that `mastwright open` has printed",
    )
}

fn with_headers(mut response: Response, policy: &HeaderValue) -> Response {
    let headers = response.headers_mut();
    let fixed = [
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        (REFERRER_POLICY.as_str(), "no-referrer"),
    ];
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.insert("content-security-policy", policy.clone());
    if !headers.contains_key("cache-control") {
        headers.insert("cache-control", HeaderValue::from_static("no-store"));
    }
    response
}

/// The page may use what it brought along, and the tiles that the person named.
fn policy(tile_address: Option<&str>) -> HeaderValue {
    let tiles = tile_address.and_then(origin_of).unwrap_or_default();
    let text = format!(
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; \
         img-src 'self' data: blob: {tiles}; connect-src 'self' {tiles}; \
         worker-src 'self' blob:; manifest-src 'self'; base-uri 'none'; form-action 'none'; \
         frame-ancestors 'none'"
    );
    HeaderValue::try_from(text).unwrap_or(HeaderValue::from_static("default-src 'none'"))
}

/// Scheme, name and port of an address; `None` where it is no plain one.
pub(crate) fn origin_of(address: &str) -> Option<String> {
    let (scheme, rest) = address.split_once("://")?;
    let name = rest.split(['/', '?', '#']).next()?;
    let is_plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | ':' | '[' | ']');
    let is_web = matches!(scheme, "http" | "https");
    (is_web && !name.is_empty() && name.chars().all(is_plain)).then(|| format!("{scheme}://{name}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_two_tokens_differ_and_are_not_shown() {
        let (a, b) = (
            Token::generate().expect("one"),
            Token::generate().expect("one"),
        );
        assert_eq!(a.reveal().len(), 64);
        assert_ne!(a.reveal(), b.reveal());
        assert!(a.is(a.reveal()) && !a.is(b.reveal()) && !a.is(""));
        assert!(!format!("{a:?}").contains(a.reveal()));
    }

    #[test]
    fn exact_only_plain_tile_addresses_enter_the_policy() {
        assert_eq!(
            origin_of("https://tiles.example:8443/{z}/{x}/{y}.png").as_deref(),
            Some("https://tiles.example:8443")
        );
        for bad in [
            "https://a;script-src *",
            "javascript:1",
            "https://",
            "ftp://a/",
            "https://a b/",
        ] {
            assert_eq!(origin_of(bad), None, "{bad}");
        }
    }
}
