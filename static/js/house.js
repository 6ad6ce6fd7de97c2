// What every page does by itself; collected, the four stand in this file (studio/static_files).

import "./double_submit.js";
import "./confirm.js";
import "./refused_forms.js";
import "./waiting.js";
