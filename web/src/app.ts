// Puts the page together.

import "./styles/tokens.css";
import "./styles/page.css";

import { Changes } from "./api.ts";
import { Keys } from "./keys.ts";
import { BenchLog } from "./log.ts";
import { MissingList } from "./missing.ts";
import { RigChoice } from "./rig.ts";
import { River } from "./river.ts";
import { SayLine } from "./sayline.ts";
import { Session } from "./session.ts";
import { Stair } from "./stair.ts";
import { Status } from "./status.ts";
import { Stream } from "./stream.ts";
import { Theme } from "./theme.ts";
import { ValueTable } from "./valuetable.ts";

const theme = new Theme();
const session = new Session();
const changes = new Changes();
const river = new River(session, theme);
const log = new BenchLog(session, changes);
new SayLine(session);
new Status(session, river.pace);
new RigChoice(session, changes);
new Stair(session);
new MissingList(session);
new ValueTable(session);
new Keys(river, theme, log);
new Stream(session, changes).start();

/** What browser tests look at: it gives figures and changes nothing. */
Object.assign(window, {
  soakline: {
    figures: () => ({ rows: session.store.length, lastSeq: session.store.lastSeq, at: session.store.lastTime, ...river.pace.figures() }),
    lanes: () => river.drawn,
  },
});
