// What every page does by itself; collected, the three stand in this file (studio/static_files).

import "./double_submit.js";
import "./confirm.js";
import "./waiting.js";
