// Works out what every threshold would count, away from the thread that follows the finger.
import { prepared } from "./live-count.js";

onmessage = ({ data: buffer }) => {
  try {
    const made = prepared(buffer);
    postMessage({ made }, [made.from.buffer]);
  } catch (error) {
    postMessage({ fault: String(error) });
  }
};
