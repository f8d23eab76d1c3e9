//! The pass over a mark: what is posted, what is refused, what the state shows.

use serde_json::json;
use skimwatch::decode::{CrewInput, Line, PassWord};
use skimwatch::pass::{PassLeg, PassLine, PassNow, PassState, Side};

use crate::invented::{self, START, moment};
use crate::serving::{get, post_request, read_answer, stamped};
use tower::ServiceExt;

/// An invented pass over mark 2.
fn pass(state: PassState) -> PassNow {
    PassNow {
        mark: 2,
        state,
        number: 1,
        legs: vec![PassLeg {
            side: Side::Port,
            by_deg: 40.0,
            rate_deg_s: 2.0,
            in_s: 12.0,
            then_heading_deg: 310.0,
        }],
        hold_heading_deg: Some(310.0),
        speed_kn: None,
        bait_closest_m: Some(4.0),
        in_s: Some(142.0),
        chance: Some(0.71),
        chance_of_marked: Some(0.2),
        likely: true,
        because: "invented".to_owned(),
        lines: vec![PassLine {
            line: Line::Main,
            by_m: 6.0,
            in_s: 12.0,
            over_s: 20.0,
        }],
        refused: None,
    }
}

#[tokio::test]
async fn a_pass_is_asked_for_accepted_and_ended_where_that_fits() {
    for (state, said, mark, expected) in [
        (None, "ask", 2, Ok(PassWord::Ask)),
        (None, "accept", 2, Err((409, "not-that-pass"))),
        (None, "ask", 7, Err((404, "no-such-mark"))),
        (Some(PassState::Offered), "accept", 2, Ok(PassWord::Accept)),
        (
            Some(PassState::Offered),
            "accept",
            1,
            Err((409, "not-that-pass")),
        ),
        (
            Some(PassState::Offered),
            "decline",
            2,
            Ok(PassWord::Decline),
        ),
        (
            Some(PassState::Offered),
            "end",
            2,
            Err((409, "not-that-pass")),
        ),
        (Some(PassState::UnderWay), "end", 2, Ok(PassWord::End)),
        (
            Some(PassState::UnderWay),
            "accept",
            2,
            Err((409, "not-that-pass")),
        ),
    ] {
        let mut snapshot = moment("marks", START);
        snapshot.pass = state.map(pass);
        let mut boat = invented::boat(snapshot);
        let shown = get(&boat, "/v1/state").await.json()["pass"].clone();
        assert_eq!(shown.is_null(), state.is_none());
        if state.is_some() {
            assert_eq!(shown["legs"][0]["side"], json!("port"));
            println!("{shown:#}");
        }
        let (app, mut inputs) = stamped(&mut boat);
        let body = json!({"said": said, "mark": mark}).to_string();
        let request = post_request("/v1/crew/pass", &body);
        let answer = read_answer(app.oneshot(request).await.unwrap()).await;
        match expected {
            Ok(word) => {
                assert_eq!(answer.status.as_u16(), 202, "{}", answer.text);
                let input = inputs.try_recv().unwrap();
                assert_eq!(input, CrewInput::Pass { mark, said: word });
            }
            Err((status, slug)) => {
                answer.problem(status, slug);
                assert!(inputs.try_recv().is_err());
            }
        }
    }
}
