// @ts-check
import { askBeforeSubmit } from "./confirm.js";
import { sendOnce } from "./forms.js";

askBeforeSubmit();
sendOnce();
