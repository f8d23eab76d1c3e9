//! Which route needs what, read from the interface document: each handler declares it as its
//! `security`. What is not in this table is refused.

use std::collections::BTreeMap;

use axum::http::Method;
use serde_json::{Value, json};
use utoipa::openapi::OpenApi;
use utoipa::openapi::path::Operation;

use crate::access::Need;

/// The scheme under which a handler declares what it needs.
pub(super) const SCHEME: &str = "phone";

/// Need by path and method; HEAD is GET.
#[derive(Debug, Default)]
pub(super) struct Doors(BTreeMap<String, BTreeMap<&'static str, Need>>);

impl Doors {
    /// Of all routes in the document. One that declares nothing stays closed.
    pub fn of(api: &OpenApi) -> Self {
        let mut doors = Self::default();
        for (path, item) in &api.paths.paths {
            for (method, operation) in [
                ("GET", &item.get),
                ("POST", &item.post),
                ("PUT", &item.put),
                ("DELETE", &item.delete),
            ] {
                if let Some(need) = operation.as_ref().and_then(need) {
                    doors.add(path, method, need);
                }
            }
        }
        doors
    }

    /// A file that anybody may read.
    pub fn file(&mut self, path: &str) {
        self.add(path, "GET", Need::Nothing);
    }

    fn add(&mut self, path: &str, method: &'static str, need: Need) {
        let methods = self.0.entry(path.to_owned()).or_default();
        methods.insert(method, need);
    }

    /// What a request needs; `None` when that way is closed.
    pub fn need(&self, path: &str, method: &Method) -> Option<Need> {
        let method = match *method {
            Method::HEAD => "GET",
            _ => method.as_str(),
        };
        self.0.get(path)?.get(method).copied()
    }

    /// The methods that a path takes, as the header `Allow` has them; `None` where there is no such
    /// path.
    pub fn methods(&self, path: &str) -> Option<String> {
        let methods = self.0.get(path)?.keys();
        let named = methods.map(|method| match *method {
            "GET" => "GET,HEAD",
            other => other,
        });
        Some(named.collect::<Vec<_>>().join(","))
    }
}

/// What an operation declares.
fn need(operation: &Operation) -> Option<Need> {
    let declared = serde_json::to_value(&operation.security).ok()?;
    [
        (json!([{}]), Need::Nothing),
        (json!([{}, {SCHEME: ["look"]}]), Need::Look),
        (json!([{SCHEME: ["crew"]}]), Need::Crew),
        (json!([{SCHEME: ["keeper"]}]), Need::Keeper),
    ]
    .into_iter()
    .find_map(|(form, need): (Value, Need)| (form == declared).then_some(need))
}

#[cfg(test)]
mod tests {
    use utoipa::OpenApi as _;
    use utoipa_axum::router::OpenApiRouter;
    use utoipa_axum::routes;

    use super::*;

    #[derive(utoipa::OpenApi)]
    struct Empty;

    #[utoipa::path(get, path = "/open", security(()), responses((status = 200)))]
    async fn open() {}

    #[utoipa::path(post, path = "/open", security(("phone" = ["crew"])), responses((status = 200)))]
    async fn posted() {}

    #[utoipa::path(get, path = "/forgotten", responses((status = 200)))]
    async fn forgotten() {}

    #[utoipa::path(get, path = "/misspelt", security(("phone" = ["kepper"])),
        responses((status = 200)))]
    async fn misspelt() {}

    #[test]
    fn a_route_that_declares_nothing_or_nonsense_is_closed() {
        let (_, api) = OpenApiRouter::<()>::with_openapi(Empty::openapi())
            .routes(routes!(open, posted))
            .routes(routes!(forgotten))
            .routes(routes!(misspelt))
            .split_for_parts();
        let doors = Doors::of(&api);
        assert_eq!(doors.need("/open", &Method::GET), Some(Need::Nothing));
        assert_eq!(doors.need("/open", &Method::HEAD), Some(Need::Nothing));
        assert_eq!(doors.need("/open", &Method::POST), Some(Need::Crew));
        assert_eq!(doors.need("/open", &Method::PUT), None);
        assert_eq!(doors.methods("/open").as_deref(), Some("GET,HEAD,POST"));
        for path in ["/forgotten", "/misspelt", "/absent"] {
            assert_eq!(doors.need(path, &Method::GET), None, "{path}");
            assert_eq!(doors.methods(path), None, "{path}");
        }
    }
}
