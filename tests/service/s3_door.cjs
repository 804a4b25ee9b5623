// An S3 bucket that looks at signatures: s3rver (npm) keeps the objects but leaves signatures of version 4 unread, so this
// door before it works each one out again with aws4 (npm, an implementation of its own) and compares, as S3 does.
// s3_door.cjs NODE_MODULES FOLDER PORT BUCKET REGION KEY SECRET
"use strict";
const crypto = require("crypto");
const http = require("http");
const path = require("path");

const [modules, folder, port, bucket, region, key, secret] = process.argv.slice(2);
const S3rver = require(path.resolve(modules, "s3rver"));
const aws4 = require(path.resolve(modules, "aws4"));

function refuse(response, status, code) {
    response.writeHead(status, { "Content-Type": "application/xml" });
    response.end(`<?xml version="1.0"?><Error><Code>${code}</Code><Message>no</Message></Error>`);
}

// What is wrong with a request, as S3 calls it; nothing: "".
function wrong(request, body) {
    const given = request.headers.authorization || "";
    const parts = /^AWS4-HMAC-SHA256 Credential=([^/]+)\/(\d{8})\/([^/]+)\/s3\/aws4_request, ?SignedHeaders=([^,]+), ?Signature=([0-9a-f]{64})$/.exec(given);
    if (!parts) return request.method === "GET" && !given ? "" : "AccessDenied";
    if (parts[1] !== key) return "InvalidAccessKeyId";
    if (parts[3] !== region) return "AuthorizationHeaderMalformed";
    const signed = parts[4].split(";");
    // What S3 wants to be signed: the host and all x-amz- headers.
    const needed = ["host", ...Object.keys(request.headers).filter((name) => name.startsWith("x-amz-"))];
    const age = Date.now() - Date.parse((request.headers["x-amz-date"] || "").replace(
        /^(\d{4})(\d\d)(\d\dT\d\d)(\d\d)(\d\dZ)$/, "$1-$2-$3:$4:$5"));
    if (!(Math.abs(age) < 900000)) return "RequestTimeTooSkewed";
    if (needed.some((name) => !signed.includes(name))) return "AccessDenied";
    if (request.headers["x-amz-content-sha256"] !== crypto.createHash("sha256").update(body).digest("hex"))
        return "XAmzContentSHA256Mismatch";
    const again = { service: "s3", region, method: request.method, path: request.url, host: request.headers.host, headers: {}, body,
        doNotModifyHeaders: true };
    for (const name of signed) again.headers[name === "host" ? "Host" : name] = request.headers[name];
    const signer = new aws4.RequestSigner(again, { accessKeyId: key, secretAccessKey: secret });
    signer.datetime = request.headers["x-amz-date"];
    signer.sign();
    const found = /Signature=([0-9a-f]{64})/.exec(again.headers.Authorization)[1];
    return found === parts[5] ? "" : "SignatureDoesNotMatch";
}

async function main() {
    const store = new S3rver({ directory: folder, address: "127.0.0.1", port: 0, silent: true, vhostBuckets: false,
        configureBuckets: [{ name: bucket }] });
    const behind = await store.run();
    http.createServer((request, response) => {
        const pieces = [];
        request.on("data", (piece) => pieces.push(piece));
        request.on("end", () => {
            const body = Buffer.concat(pieces);
            const code = wrong(request, body);
            if (code) return refuse(response, 403, code);
            const headers = { ...request.headers };
            delete headers.authorization; // the store has a key of its own
            const on = http.request({ host: "127.0.0.1", port: behind.port, method: request.method, path: request.url, headers },
                (answer) => {
                    response.writeHead(answer.statusCode, answer.headers);
                    answer.pipe(response);
                });
            on.on("error", () => refuse(response, 500, "InternalError"));
            on.end(body);
        });
    }).listen(Number(port), "127.0.0.1");
}
main();
