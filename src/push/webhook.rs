//! Posts to one device.

use std::time::Duration;

use axum::body::Body;
use axum::http::{HeaderValue, Request, header};
use hyper::client::conn::http1;
use hyper_util::rt::TokioIo;
use tokio::time::timeout;
use tokio_util::task::AbortOnDropHandle;

use super::living::{Revision, Revisions};
use super::report::Report;
use super::{place, secret};
use crate::feed::Backoff;
use crate::settings::WebhookSettings;

/// Longest time from the look-up of a name to the answer.
const PATIENCE: Duration = Duration::from_secs(5);
/// Longest pause between two tries.
const LONGEST: Duration = Duration::from_secs(10);

/// Posts the latest revision, again and again until it is taken.
#[derive(Debug)]
pub(super) struct Webhook {
    settings: WebhookSettings,
    revisions: Revisions,
    report: Report,
}

impl Webhook {
    pub fn new(settings: WebhookSettings, revisions: Revisions, report: Report) -> Self {
        Self {
            settings,
            revisions,
            report,
        }
    }

    pub async fn run(mut self) {
        let mut backoff = Backoff::new(LONGEST);
        while self.revisions.changed().await.is_ok() {
            loop {
                // Whatever came while another was under way.
                let Some(revision) = self.revisions.borrow_and_update().clone() else {
                    break;
                };
                match within(PATIENCE, post(&self.settings, &revision)).await {
                    Ok(()) => {
                        self.report.sent(revision.number());
                        backoff.reset();
                        break;
                    }
                    Err(why) => {
                        self.report.failed(why);
                        tokio::time::sleep(backoff.pause()).await;
                    }
                }
            }
        }
    }
}

async fn within(
    patience: Duration,
    work: impl Future<Output = Result<(), String>>,
) -> Result<(), String> {
    match timeout(patience, work).await {
        Ok(done) => done,
        Err(_) => Err(format!("no answer within {} s", patience.as_secs())),
    }
}

/// What shows the device who posts; `None` where nothing is to.
async fn authorization(settings: &WebhookSettings) -> Result<Option<HeaderValue>, String> {
    let Some(path) = &settings.secret_file else {
        return Ok(None);
    };
    let [secret] = secret::lines(path, ["the secret"]).await?;
    let mut value = HeaderValue::from_str(&format!("Bearer {secret}"))
        .map_err(|_| format!("{} holds no secret that can be sent", path.display()))?;
    value.set_sensitive(true);
    Ok(Some(value))
}

async fn post(settings: &WebhookSettings, revision: &Revision) -> Result<(), String> {
    let authorization = authorization(settings).await?;
    let stream = place::connect(&settings.to).await?;
    let body = serde_json::to_vec(&revision.now()).map_err(|why| why.to_string())?;
    let mut request = Request::post(&settings.path)
        .header(header::HOST, settings.to.to_string())
        .header(header::CONTENT_TYPE, "application/json")
        .header(header::CONNECTION, "close");
    if let Some(authorization) = authorization {
        request = request.header(header::AUTHORIZATION, authorization);
    }
    let request = request
        .body(Body::from(body))
        .map_err(|why| why.to_string())?;
    let no_answer = |why: hyper::Error| format!("no answer ({why}): does it speak HTTP?");
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream))
        .await
        .map_err(no_answer)?;
    let _ends_with_us = AbortOnDropHandle::new(tokio::spawn(connection));
    // What it says besides counts for nothing.
    let answer = sender.send_request(request).await.map_err(no_answer)?;
    if answer.status().is_success() {
        Ok(())
    } else {
        Err(format!("it answers {}", answer.status()))
    }
}

/// Whether the device can be reached and its secret be read. Nothing is posted.
///
/// # Errors
/// Why not.
pub async fn try_out(settings: &WebhookSettings) -> Result<(), String> {
    within(PATIENCE, async {
        authorization(settings).await?;
        place::connect(&settings.to).await.map(drop)
    })
    .await
}
