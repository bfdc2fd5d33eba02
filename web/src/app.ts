// Puts the page together.

import "./styles/tokens.css";
import "./styles/page.css";

import { Alarms } from "./alarms.ts";
import { Changes } from "./api.ts";
import { Compare } from "./compare.ts";
import { Help } from "./help.ts";
import { Keep } from "./keep.ts";
import { Keys } from "./keys.ts";
import { LastSetup } from "./last-setup.ts";
import { BenchLog } from "./log.ts";
import { MissingList } from "./missing.ts";
import { RigChoice } from "./rig.ts";
import { Readings } from "./readings.ts";
import { River } from "./river.ts";
import { SayLine } from "./sayline.ts";
import { Screen } from "./screen.ts";
import { Session } from "./session.ts";
import { OpenSession } from "./sessions-open.ts";
import { Places } from "./sessions-place.ts";
import { Shown } from "./sessions-shown.ts";
import { Sessions } from "./sessions.ts";
import { Stair } from "./stair.ts";
import { Status } from "./status.ts";
import { Stream } from "./stream.ts";
import { Theme } from "./theme.ts";
import { ValueTable } from "./valuetable.ts";

const theme = new Theme();
const live = new Session();
const session = new Shown(live); // the running session, or a kept one that was opened
const changes = new Changes();
const places = new Places();
const river = new River(session, theme);
const log = new BenchLog(session, changes);
new SayLine(session);
new Status(live, river.pace);
new RigChoice(live, changes);
new Stair(session);
new MissingList(session);
new LastSetup(live, changes);
new ValueTable(session);
const alarms = new Alarms(live, changes);
new Keys(river, theme, log, alarms, new Readings(session, river, theme), new Screen(theme));
new Keep(live);
new Help();
new OpenSession(live, session, river, places);
new Sessions(places, changes, live);
new Compare(places, theme);
new Stream(live, changes).start();
places.start();

/** What browser tests look at: it gives figures and changes nothing. */
Object.assign(window, {
  soakline: {
    figures: () => ({ rows: session.store.length, lastSeq: session.store.lastSeq, at: session.store.lastTime, ...river.pace.figures() }),
    lanes: () => river.drawn,
    lines: () => river.names,
    alarms: () => alarms.raised,
  },
});
