// The page for signing in: whoever was here before left, so what their bench kept goes.
// Steps that wait to be sent stay until their own person signs in again.
import { forget } from "./bench-store.js";

forget().catch(() => {}); // nothing was kept
