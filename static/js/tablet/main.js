// The page's one entry: engine, rules and screens put together.

import { App } from "./app.js";
import { Desk } from "./desk.js";
import { startEngine } from "./engine.js";
import { moment, newId } from "./identifiers.js";
import { judge } from "./judge.js";

const engine = startEngine();
const app = new App(document.querySelector("#tablet"), () => new Desk({ engine, judge, moment, newId }), engine, moment);
engine.verdictOf = (visit) => app.desk.verdictOf(visit);
engine.mayReload = () => app.desk.place.visit === null;
app.start();
