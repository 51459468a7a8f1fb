// What few pages need, and what they need only without the server. The server
// puts the address of the module of every page in place of "tablet".
import { all, say, siteTime, words, get, put, forget, rows, unsent, send, flush, takenRuns, frame, serverNow, person, reached, signInNeeded } from "tablet";

