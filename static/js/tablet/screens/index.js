// Which function draws which screen: the steps of a visit by the names flow.js gives, and the pages laid over them.

import { afterwards } from "./afterwards.js";
import { again } from "./again.js";
import { arms } from "./arms.js";
import { bag } from "./bag.js";
import { band, bandAgain } from "./band.js";
import { begunElsewhere } from "./begun_elsewhere.js";
import { birthDate } from "./birth_date.js";
import { blood } from "./blood.js";
import { clean } from "./clean.js";
import { closedArm } from "./closed_arm.js";
import { consent } from "./consent.js";
import { door } from "./door.js";
import { draw } from "./draw.js";
import { drying } from "./drying.js";
import { ended } from "./ended.js";
import { firstAid } from "./first_aid.js";
import { handBack } from "./hand_back.js";
import { handOver } from "./hand_over.js";
import { heardName } from "./heard_name.js";
import { held, notChecked } from "./held.js";
import { identityStop } from "./identity_stop.js";
import { compare, labelStop, print, readBack, whichTube, writeByHand } from "./label_screens.js";
import { leave } from "./leave.js";
import { lookForVein } from "./look_for_vein.js";
import { mix } from "./mix.js";
import { namePart } from "./name_part.js";
import { needle } from "./needle.js";
import { noBand } from "./no_band.js";
import { noFlow } from "./no_flow.js";
import { notDrawnScreen } from "./not_drawn.js";
import { note } from "./note.js";
import { notes } from "./notes.js";
import { otherSite } from "./other_site.js";
import { questions } from "./questions.js";
import { refused } from "./refused.js";
import { short } from "./short.js";
import { site } from "./site.js";
import { story } from "./story.js";
import { supplies } from "./supplies.js";
import { thisTablet } from "./this_tablet.js";
import { toLab } from "./to_lab.js";
import { tubePageScreen } from "./tube_page.js";
import { unfinished } from "./unfinished.js";
import { voucher } from "./voucher.js";
import { weighFirst } from "./weigh_first.js";
import { wrongScreen } from "./wrong.js";

/** Steps of a visit: (view, desk) → screen. */
export const STEPS = {
  begun_elsewhere: begunElsewhere,
  weigh_first: weighFirst,
  door,
  birth_date: birthDate,
  heard_name: heardName,
  voucher,
  name_part: namePart,
  band,
  no_band: noBand,
  identity_stop: identityStop,
  not_checked: notChecked,
  consent,
  refused,
  questions,
  arms,
  look_for_vein: lookForVein,
  clean,
  drying,
  needle,
  draw,
  no_flow: noFlow,
  afterwards,
  mix,
  print,
  write_by_hand: writeByHand,
  read_back: readBack,
  compare,
  label_stop: labelStop,
  band_again: bandAgain,
  site,
  again,
  bag,
  leave,
  ended,
};

/** Pages laid over a visit: (view, desk, page) → screen. */
export const PAGES = {
  blood,
  held,
  wrong: wrongScreen,
  first_aid: firstAid,
  note,
  not_drawn: notDrawnScreen,
  other_site: otherSite,
  site,
  story,
  closed_arm: closedArm,
  short,
  tube: tubePageScreen,
  unfinished,
  which_tube: whichTube,
};

/** Pages that need no visit: (desk, page) → screen. */
export const TABLET_PAGES = { this_tablet: thisTablet, hand_back: handBack, hand_over: handOver, notes, supplies, to_lab: toLab };
