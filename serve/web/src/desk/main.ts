// The desk: the office side of the job. Each part is mounted by one line.
import "../shared/shell/base.css"; // first: the others build on it
import "./app/frame.css";
import { startDesk } from "./app/start";
import { mountJobs } from "./jobs/jobs";
import { mountPicture } from "./picture/picture";
import { mountPlan } from "./plan/plan";
import { mountRecords } from "./records/records";

void startDesk((desk) => {
  mountJobs(desk);
  mountPicture(desk);
  mountPlan(desk);
  mountRecords(desk);
});
