//! The keeper of the settings: checks what a page wants changed, saves it, and has it recorded,
//! which is what makes it take effect.

use std::any::Any;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, oneshot, watch};
use tokio_util::sync::CancellationToken;

use crate::decode::CrewInput;
use crate::engine::Revise;
use crate::serve::{CrewPost, SettingsPost, SettingsRefusal};
use crate::settings::{self, Kept, SetUp, SettingValue, Settings, SettingsError};

/// Longest wait for the engine to take settings that were recorded.
const PATIENCE: Duration = Duration::from_secs(30);

/// What the settings are now, for the keeper and for the pages. Only the engine's word changes it.
#[derive(Debug)]
pub struct InForce {
    kept: Kept,
    settings: watch::Sender<Arc<Settings>>,
    set_up: watch::Sender<Arc<SetUp>>,
}

/// Checks what a page wants changed, saves it and has it recorded, one change after the other.
#[derive(Debug)]
pub struct Keeper {
    /// Where changes are saved; `None` for nowhere.
    file: Option<PathBuf>,
    posts: mpsc::Receiver<SettingsPost>,
    crew: mpsc::Sender<CrewPost>,
    settings: watch::Receiver<Arc<Settings>>,
    set_up: watch::Receiver<Arc<SetUp>>,
}

impl InForce {
    /// With the settings of the start, and a keeper that saves to `file`.
    pub fn new(
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
    pub fn set_up(&self) -> watch::Receiver<Arc<SetUp>> {
        self.set_up.subscribe()
    }

    /// The engine works with these settings now.
    pub fn revised(&self, source: Arc<dyn Revise>) {
        let source: Arc<dyn Any + Send + Sync> = source;
        let Ok(settings) = source.downcast::<Settings>() else {
            tracing::error!("the engine works with settings that no page can show");
            return;
        };
        let mut set_up = settings.set_up(self.kept.clone());
        set_up.revision = self.set_up.borrow().revision + 1;
        tracing::info!("{}: settings changed", settings.source.name);
        self.set_up.send_replace(Arc::new(set_up));
        self.settings.send_replace(settings);
    }
}

impl Keeper {
    /// One change after the other, until shut down.
    pub async fn run(mut self, shutdown: CancellationToken) {
        loop {
            let post = tokio::select! {
                () = shutdown.cancelled() => return,
                post = self.posts.recv() => post,
            };
            let Some(SettingsPost { changes, by, reply }) = post else {
                return;
            };
            let answer = self.change(changes, by).await;
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
        by: Option<Arc<str>>,
    ) -> Result<Arc<SetUp>, SettingsRefusal> {
        let now = Arc::clone(&self.settings.borrow_and_update());
        let changes: Vec<_> = changes
            .into_iter()
            .map(|(key, value)| settings::setting_change(key, value))
            .collect();
        let wanted = now.changed(&changes).map_err(wrong)?;
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
            self.record(CrewInput::Setting { change, more }, by.clone())
                .await?;
        }
        // The engine's word that it works with them.
        match tokio::time::timeout(PATIENCE, self.settings.changed()).await {
            Ok(Ok(())) => Ok(Arc::clone(&self.set_up.borrow())),
            _ => Err(SettingsRefusal::Ended),
        }
    }

    async fn record(&self, input: CrewInput, by: Option<Arc<str>>) -> Result<(), SettingsRefusal> {
        let (reply, answer) = oneshot::channel();
        self.crew
            .send(CrewPost { input, by, reply })
            .await
            .map_err(|_| SettingsRefusal::Ended)?;
        match answer.await {
            Ok(Ok(_)) => Ok(()),
            _ => Err(SettingsRefusal::Ended),
        }
    }
}

fn wrong(error: SettingsError) -> SettingsRefusal {
    match error {
        SettingsError::Wrong { complaints } => SettingsRefusal::Wrong(complaints),
        SettingsError::Unreadable { file, why } => SettingsRefusal::NotSaved {
            detail: format!("{file} cannot be read"),
            cure: why,
        },
    }
}
