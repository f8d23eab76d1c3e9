//! Completes the OpenAPI document with what the handlers do not declare: the responses of the
//! middleware (`limits`, `body`) and of the stamper, and the ranges of numbers in bodies and queries.

use serde_json::Value;
use utoipa::Number;
use utoipa::openapi::path::Operation;
use utoipa::openapi::schema::{Object, Schema};
use utoipa::openapi::security::{
    ApiKey, ApiKeyValue, HttpAuthScheme, HttpBuilder, SecurityRequirement, SecurityScheme,
};
use utoipa::openapi::{
    Components, Content, HeaderBuilder, ObjectBuilder, OpenApi, Ref, RefOr, Response,
    ResponseBuilder, Type,
};

use super::doors::SCHEME;
use super::ranges;
use super::who::COOKIE;
use crate::vessel::MARK_NAME_MAX;

/// The scheme of a program's token.
const BEARER: &str = "bearer";

const PROBLEM_TYPE: &str = "application/problem+json";

/// What any route may answer.
const OF_ALL: &[(&str, &str)] = &[
    ("400", "Not one Host, or what was sent cannot be read"),
    ("408", "The body did not come in time"),
    ("413", "The body is too long"),
    ("421", "Host is not a name of this program"),
];

/// What a route that changes something may also answer.
const OF_CHANGES: &[(&str, &str)] = &[
    (
        "403",
        "A page of another host asks, or the phone is no keeper's",
    ),
    ("429", "Too many posts of this client, or of all together"),
    ("503", "Nothing takes it now"),
];

/// What a route may answer that not everybody may use.
const OF_LOCKS: &[(&str, &str)] = &[("401", "The phone has not joined, and must for this")];

/// What a route that takes a body may also answer.
const OF_BODIES: &[(&str, &str)] = &[
    ("415", "The body has no Content-Type: application/json"),
    ("422", "A field is missing, unknown or out of range"),
];

/// What a crew post may also answer.
const OF_CREW: &[(&str, &str)] = &[("409", "It does not fit what is so now")];

/// What a route that waits for a permit may answer.
const BUSY: (&str, &str) = ("503", "Too busy: not answered in time");

/// Adds the responses of the wait for a permit to all routes that are in the document so far.
pub(super) fn permits(api: &mut OpenApi) {
    each_operation(api, |_, operation| add(operation, &[BUSY]));
}

/// Adds everything else, once all routes are in the document.
pub(super) fn complete(api: &mut OpenApi) {
    locks(api);
    each_operation(api, |reads, operation| {
        add(operation, OF_ALL);
        add_redirect(operation);
        if !reads {
            add(operation, OF_CHANGES);
        }
        if operation.request_body.is_some() {
            add(operation, OF_BODIES);
        }
        let of_crew = |tags: &Vec<String>| tags.iter().any(|tag| tag == "crew");
        if operation.tags.as_ref().is_some_and(of_crew) {
            add(operation, OF_CREW);
            if let Some(RefOr::T(taken)) = operation.responses.responses.get_mut("202") {
                taken.description = "It counts, and is recorded under this number".to_owned();
            }
        }
    });
    each_operation(api, |_, operation| {
        for parameter in operation.parameters.iter_mut().flatten() {
            let RefOr::T(parameter) = parameter else {
                continue;
            };
            let range = ranges::ALL
                .iter()
                .find(|range| range.shape == "RigQuery" && range.field == parameter.name);
            if let (Some(range), Some(RefOr::T(Schema::Object(field)))) =
                (range, &mut parameter.schema)
            {
                bound(field, range);
            }
        }
    });
    let Some(components) = &mut api.components else {
        return;
    };
    for range in &ranges::ALL {
        if let Some(field) = field(components, range.shape, range.field) {
            bound(field, range);
        }
    }
    for shape in ["MarkBody", "MarkNameBody"] {
        if let Some(name) = field(components, shape, "name") {
            name.max_length = Some(MARK_NAME_MAX);
            name.pattern = Some("^[A-Za-z0-9 -]*$".to_owned());
        }
    }
}

/// Adds the ways to show a token, to each route that may need one.
fn locks(api: &mut OpenApi) {
    each_operation(api, |_, operation| {
        let declared = serde_json::to_value(&operation.security).unwrap_or_default();
        let needs = declared.as_array().into_iter().flatten();
        let Some(scopes) = needs.filter_map(|need| need.get(SCHEME)?.as_array()).next() else {
            return;
        };
        add(operation, OF_LOCKS);
        let bearer = SecurityRequirement::new(BEARER, scopes.iter().filter_map(Value::as_str));
        operation.security.get_or_insert_default().push(bearer);
    });
    let cookie = ApiKeyValue::with_description(
        COOKIE,
        "A browser's token, as POST /v1/phone/join sets it. Scopes are what the phone must be; a \
         program whose settings lock nothing asks for none.",
    );
    let bearer = HttpBuilder::new()
        .scheme(HttpAuthScheme::Bearer)
        .description(Some("A program's token, as POST /v1/phone/join gives it"))
        .build();
    let components = api.components.get_or_insert_default();
    components.add_security_scheme(SCHEME, SecurityScheme::ApiKey(ApiKey::Cookie(cookie)));
    components.add_security_scheme(BEARER, SecurityScheme::Http(bearer));
}

fn bound(field: &mut Object, range: &ranges::Range) {
    field.minimum = Some(Number::from(range.least));
    field.maximum = Some(Number::from(range.most));
}

fn field<'a>(components: &'a mut Components, shape: &str, field: &str) -> Option<&'a mut Object> {
    match components.schemas.get_mut(shape)? {
        RefOr::T(Schema::Object(shape)) => match shape.properties.get_mut(field)? {
            RefOr::T(Schema::Object(field)) => Some(field),
            _ => None,
        },
        _ => None,
    }
}

/// Every operation, and whether it only reads.
fn each_operation(api: &mut OpenApi, mut what: impl FnMut(bool, &mut Operation)) {
    for path in api.paths.paths.values_mut() {
        for (reads, operation) in [
            (true, &mut path.get),
            (false, &mut path.post),
            (false, &mut path.put),
            (false, &mut path.delete),
        ] {
            if let Some(operation) = operation {
                what(reads, operation);
            }
        }
    }
}

/// Adds problem responses; what a handler itself declares for a status stays.
fn add(operation: &mut Operation, answers: &[(&str, &str)]) {
    for (status, description) in answers {
        let problem = problem(status, description);
        match operation.responses.responses.get_mut(*status) {
            Some(RefOr::T(own)) => {
                for (kind, content) in problem.content {
                    own.content.entry(kind).or_insert(content);
                }
                for (name, header) in problem.headers {
                    own.headers.entry(name).or_insert(header);
                }
            }
            Some(RefOr::Ref(_)) => {}
            None => {
                let responses = &mut operation.responses.responses;
                responses.insert((*status).to_owned(), problem.into());
            }
        }
    }
}

/// Plain HTTP from another computer, where TLS is spoken.
fn add_redirect(operation: &mut Operation) {
    let redirect = ResponseBuilder::new()
        .description("What only reads and came in plain http is led to https, where that is on")
        .build();
    let responses = &mut operation.responses.responses;
    responses.insert("307".to_owned(), redirect.into());
}

fn problem(status: &str, description: &str) -> Response {
    let problem = ResponseBuilder::new().description(description).content(
        PROBLEM_TYPE,
        Content::new(Some(Ref::from_schema_name("Problem"))),
    );
    if !matches!(status, "429" | "503") {
        return problem.build();
    }
    let seconds = ObjectBuilder::new()
        .schema_type(Type::Integer)
        .minimum(Some(1));
    let retry_after = HeaderBuilder::new()
        .schema(Some(seconds))
        .description(Some("Whole seconds after which to try again"))
        .build();
    problem.header("Retry-After", retry_after).build()
}
