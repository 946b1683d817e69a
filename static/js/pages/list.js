// @ts-check
import { askBeforeSubmit } from "../lib/confirm.js";
import { sendOnce } from "../lib/forms.js";

askBeforeSubmit();
sendOnce();
