// @ts-check
import { askBeforeSubmit } from "./confirm.js";

askBeforeSubmit();
