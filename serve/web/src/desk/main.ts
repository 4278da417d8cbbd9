// The desk: the office side of the job. Each part is mounted by one line.
import "../shared/shell/base.css"; // first: the others build on it
import "./app/frame.css";
import { mountArea } from "./area/area";
import { startDesk } from "./app/start";
import { followTasks } from "./app/tasks";
import { mountHome } from "./home/home";
import { mountJobs } from "./jobs/jobs";
import { mountKeeping } from "./keeping/keeping";
import { mountPicture } from "./picture/picture";
import { mountPlan } from "./plan/plan";
import { mountRecords } from "./records/records";
import { mountWork } from "./work/work";

void startDesk((desk) => {
  const tasks = followTasks(desk);
  mountJobs(desk, tasks);
  mountArea(desk);
  mountPicture(desk);
  mountPlan(desk);
  mountRecords(desk);
  mountHome(desk);
  mountWork(desk, tasks);
  mountKeeping(desk, tasks);
});
