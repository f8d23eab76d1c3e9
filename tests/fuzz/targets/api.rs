//! The routes that take a body, as the interface document names them.

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request, Response, header};
use serde_json::Value;
use tower::ServiceExt as _;

/// A route that takes a body.
#[allow(dead_code, reason = "the seeds need the operation alone")]
pub struct Route {
    pub method: Method,
    pub path: String,
    /// Its operation in the document.
    pub operation: Value,
}

/// An answer: its status and its text.
pub async fn ask(app: &Router, request: Request<Body>) -> (u16, String) {
    let answer: Response<Body> = app.clone().oneshot(request).await.expect("an answer");
    let status = answer.status().as_u16();
    let bytes = to_bytes(answer.into_body(), 4 << 20).await;
    let text = String::from_utf8(bytes.expect("a whole answer").to_vec());
    (status, text.expect("an answer is text"))
}

/// A request of our own page.
pub fn request(method: &Method, path: &str, body: &[u8]) -> Request<Body> {
    Request::builder()
        .method(method)
        .uri(path)
        .header(header::HOST, "127.0.0.1:8477")
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from(body.to_vec()))
        .expect("a request")
}

/// The interface document, and the routes that take a body.
pub async fn routes(app: &Router) -> (Value, Vec<Route>) {
    let asked = ask(app, request(&Method::GET, "/v1/openapi.json", b"")).await;
    let document: Value = serde_json::from_str(&asked.1).expect("a document");
    let mut routes = Vec::new();
    for (path, methods) in document["paths"].as_object().expect("paths") {
        for (method, operation) in methods.as_object().expect("methods") {
            if operation["requestBody"].is_object() {
                routes.push(Route {
                    method: Method::from_bytes(method.to_uppercase().as_bytes()).expect("a method"),
                    // Marks and phones are numbered from 1.
                    path: path.replace("{number}", "1").replace("{id}", "1"),
                    operation: operation.clone(),
                });
            }
        }
    }
    assert!(routes.len() >= 15, "{} routes take a body", routes.len());
    (document, routes)
}
