//! skimwatch
