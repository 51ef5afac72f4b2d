// The page's one entry: engine, rules and screens put together.

import { App } from "./app.js";
import { Desk } from "./desk.js";
import { startEngine } from "./engine.js";
import { moment, newId } from "./identifiers.js";
import { judge } from "./judge.js";

const engine = startEngine();
const desk = new Desk({ engine, judge, moment, newId });
engine.verdictOf = (visit) => desk.verdictOf(visit);
engine.mayReload = () => desk.place.visit === null;
new App(document.querySelector("#tablet"), desk, engine).start();
