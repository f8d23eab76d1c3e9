//! The keeper of the settings: checks what a page wants changed, saves it, and has it recorded,
//! which is what makes it take effect.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, oneshot, watch};
use tokio_util::sync::CancellationToken;

use crate::decode::CrewInput;
use crate::serve::{
    CrewPost, Kept, KeyProblem, SetUp, SettingValue, SettingsPost, SettingsRefusal,
};
use crate::settings::{self, Settings, SettingsError};

/// Longest wait for the engine to take settings that were recorded.
const PATIENCE: Duration = Duration::from_secs(30);

/// What the settings are now, for the keeper and for the pages. Only the engine's word changes it.
#[derive(Debug)]
pub(super) struct InForce {
    kept: Kept,
    settings: watch::Sender<Arc<Settings>>,
    set_up: watch::Sender<Arc<SetUp>>,
}

/// See the head of the file.
#[derive(Debug)]
pub(super) struct Keeper {
    /// Where changes are saved; `None` for nowhere.
    file: Option<PathBuf>,
    posts: mpsc::Receiver<SettingsPost>,
    crew: mpsc::Sender<CrewPost>,
    settings: watch::Receiver<Arc<Settings>>,
    set_up: watch::Receiver<Arc<SetUp>>,
}

impl InForce {
    /// With the settings of the start, and a keeper that saves to `file`.
    pub(super) fn new(
        settings: Settings,
        file: Option<PathBuf>,
        posts: mpsc::Receiver<SettingsPost>,
        crew: mpsc::Sender<CrewPost>,
    ) -> (Self, Keeper) {
        let kept = match &file {
            Some(path) => Kept::File {
                path: path.display().to_string(),
                previous: settings::previous(path).display().to_string(),
            },
            None => Kept::Memory,
        };
        let in_force = Self {
            set_up: watch::Sender::new(Arc::new(settings.set_up(kept.clone()))),
            settings: watch::Sender::new(Arc::new(settings)),
            kept,
        };
        let keeper = Keeper {
            file,
            posts,
            crew,
            settings: in_force.settings.subscribe(),
            set_up: in_force.set_up.subscribe(),
        };
        (in_force, keeper)
    }

    /// What pages read.
    pub(super) fn set_up(&self) -> watch::Receiver<Arc<SetUp>> {
        self.set_up.subscribe()
    }

    /// The engine works with this text now.
    pub(super) fn revised(&self, text: &str) {
        let name = self.settings.borrow().source.name.clone();
        match settings::parse(text, &name) {
            Ok(settings) => {
                let mut set_up = settings.set_up(self.kept.clone());
                set_up.revision = self.set_up.borrow().revision + 1;
                self.set_up.send_replace(Arc::new(set_up));
                self.settings.send_replace(Arc::new(settings));
                tracing::info!("{name}: settings changed");
            }
            Err(error) => tracing::error!("{error}"),
        }
    }
}

impl Keeper {
    /// One change after the other, until shut down.
    pub(super) async fn run(mut self, shutdown: CancellationToken) {
        loop {
            let post = tokio::select! {
                () = shutdown.cancelled() => return,
                post = self.posts.recv() => post,
            };
            let Some(SettingsPost { changes, reply }) = post else {
                return;
            };
            let answer = self.change(changes).await;
            if let Err(SettingsRefusal::NotSaved { detail, cure }) = &answer {
                tracing::warn!("settings not saved: {detail}; {cure}");
            }
            // A page that went away does not mind.
            let _ = reply.send(answer);
        }
    }

    async fn change(
        &mut self,
        changes: BTreeMap<String, Option<SettingValue>>,
    ) -> Result<Arc<SetUp>, SettingsRefusal> {
        let now = Arc::clone(&self.settings.borrow_and_update());
        let changes: Vec<_> = changes
            .into_iter()
            .map(|(key, value)| settings::setting_change(key, value))
            .collect();
        let wanted = now.source.changed(&changes).map_err(wrong)?;
        if wanted.source == now.source {
            return Ok(Arc::clone(&self.set_up.borrow()));
        }
        if let Some(path) = self.file.clone() {
            let saving = tokio::task::spawn_blocking(move || {
                settings::save(&path, &now.source.text, &wanted.source.text)
            });
            match saving.await {
                Ok(Ok(())) => {}
                Ok(Err(error)) => {
                    return Err(SettingsRefusal::NotSaved {
                        detail: error.to_string(),
                        cure: error.cure(),
                    });
                }
                Err(_) => return Err(SettingsRefusal::Ended),
            }
        }
        let last = changes.len().saturating_sub(1);
        for (index, change) in changes.into_iter().enumerate() {
            let more = u32::try_from(last - index).unwrap_or(0);
            self.record(CrewInput::Setting { change, more }).await?;
        }
        // The engine's word that it works with them.
        match tokio::time::timeout(PATIENCE, self.settings.changed()).await {
            Ok(Ok(())) => Ok(Arc::clone(&self.set_up.borrow())),
            _ => Err(SettingsRefusal::Ended),
        }
    }

    async fn record(&self, input: CrewInput) -> Result<(), SettingsRefusal> {
        let (reply, answer) = oneshot::channel();
        self.crew
            .send(CrewPost { input, reply })
            .await
            .map_err(|_| SettingsRefusal::Ended)?;
        match answer.await {
            Ok(Ok(_)) => Ok(()),
            _ => Err(SettingsRefusal::Ended),
        }
    }
}

fn wrong(error: SettingsError) -> SettingsRefusal {
    SettingsRefusal::Wrong(match error {
        SettingsError::Wrong { complaints } => complaints
            .into_iter()
            .map(|complaint| KeyProblem {
                key: complaint.key,
                problem: complaint.problem,
                cure: complaint.cure,
            })
            .collect(),
        SettingsError::Unreadable { file, why } => vec![KeyProblem {
            key: file,
            problem: why,
            cure: String::new(),
        }],
    })
}
