// What the npm package http-cache-semantics 4.3.0 (general-purpose, BSD-2) says
// of answers, for a private cache.
//
//   node cache.mjs < answers.json
// reads {"now": ms, "answers": [{"status": 200, "headers": {"cache-control": "…"}}, …]}
// and writes, for each, {"storable": true, "fresh": seconds}.
import { readFileSync } from "node:fs";
import CachePolicy from "http-cache-semantics";

const { now, answers } = JSON.parse(readFileSync(0));
CachePolicy.prototype.now = () => now;
const options = { shared: false, cacheHeuristic: 0.1, immutableMinTimeToLive: 0 };
const out = answers.map(({ status, headers }) => {
  const policy = new CachePolicy({ method: "GET", url: "/", headers: {} }, { status, headers }, options);
  return { storable: policy.storable(), fresh: Math.max(0, policy.maxAge() - policy.age()) };
});
process.stdout.write(JSON.stringify(out));
