"""Animals: visits, captures, return lags and counts. May use `hydro`; knows no screens."""
