// The texts of this bundle, which the page has not loaded before. Imported first.
import later from "../../../../../tiles/words/words.json?later";
import { addTexts } from "../../shared/lib/words";

addTexts(later);
