// What the page would show for a message of the server (a file): the figures of every step.
import { readFileSync } from "node:fs";

import { prepared } from "../../../static/js/room/live-count.js";

const file = readFileSync(process.argv[2]);
const { figures } = prepared(file.buffer.slice(file.byteOffset, file.byteOffset + file.byteLength));
process.stdout.write(JSON.stringify(figures));
