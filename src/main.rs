//! bin
fn main(){}
