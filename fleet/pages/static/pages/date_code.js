// Reads an identification number or its date digits as the server does, so that the age is told at once, with no network too.
const DAY_MS = 86400000;
const TOLERANCE_DAYS = 7;
const LAST_THREE_DIGIT_DAY = "2000-07-01";
const DIGIT_MEANT = { G: "6", I: "1", O: "0", Q: "0", S: "5", Z: "2" };

function utc(day) {
  return Date.parse(`${day}T00:00:00Z`);
}

function shiftedDay(day, days) {
  return new Date(utc(day) + days * DAY_MS).toISOString().slice(0, 10);
}

// The Sunday on which a numbered week of manufacture begins; week 1 is the first full one.
function weekStart(year, week) {
  if (week < 1 || week > 53) {
    throw new RangeError(`Week ${String(week).padStart(2, "0")} does not exist; the week of manufacture runs from 01 to 53.`);
  }
  const newYear = new Date(Date.UTC(year, 0, 1));
  const toSunday = (7 - newYear.getUTCDay()) % 7;
  return new Date(newYear.getTime() + (toSunday + 7 * (week - 1)) * DAY_MS).toISOString().slice(0, 10);
}

function fourDigits(number, seenOn) {
  const code = number.slice(-4);
  const week = Number(code.slice(0, 2));
  const year = 2000 + Number(code.slice(2));
  const madeOn = weekStart(year, week);
  if (shiftedDay(madeOn, -TOLERANCE_DAYS) > seenOn) {
    throw new RangeError(
      `${code} means week ${week} of ${year}, which is after ${seenOn}; four digits are week and year, 2000 or later, so the date must lie in the past.`,
    );
  }
  if (number.length === 13 && year < 2015) {
    throw new RangeError(
      `${number} has 13 symbols but the date ${code} is in ${year}; numbers of 13 symbols began in 2015, so check both, or give only the four date digits.`,
    );
  }
  return { week, year, madeOn, candidates: [madeOn] };
}

function threeDigits(number, seenOn) {
  const code = number.slice(-3);
  const week = Number(code.slice(0, 2));
  const digit = Number(code[2]);
  const last = [shiftedDay(seenOn, TOLERANCE_DAYS), LAST_THREE_DIGIT_DAY].sort()[0];
  const candidates = [1980, 1990, 2000].map((decade) => weekStart(decade + digit, week)).filter((day) => day <= last);
  if (!candidates.length) {
    throw new RangeError(
      `${code} would be week ${week} of a year ending in ${digit}, none of which lies between 1980 and ${seenOn}; since 2000 the date has four digits, week and year.`,
    );
  }
  return { week, year: null, madeOn: null, candidates };
}

function refuseSymbols(number) {
  [...number].forEach((symbol, index) => {
    const place = `at place ${index + 1} of ${number}`;
    if (symbol in DIGIT_MEANT) {
      throw new RangeError(
        `The letter ${symbol} ${place} is not used in identification numbers; is it the digit ${DIGIT_MEANT[symbol]}?`,
      );
    }
    if (!/^[0-9A-Z]$/.test(symbol)) {
      throw new RangeError(
        `${symbol} ${place} is not used in identification numbers; they consist of digits and letters only.`,
      );
    }
  });
}

function refuseEnd(number) {
  if (/[0-9]{4}[A-Z]$/.test(number)) {
    throw new RangeError(
      `The letter ${number.slice(-1)} follows the date ${number.slice(-5, -1)} in ${number}; the number must end with the date, so leave the letter out.`,
    );
  }
  if (!/^[0-9]+$/.test(number.slice(-3))) {
    throw new RangeError(
      `${number || "An empty text"} does not end with a date; it must end with four digits, week and year, such as 2319 for week 23 of 2019.`,
    );
  }
}

function refuseLength(number) {
  const length = number.length;
  const isKnown = length === 13 || (length >= 8 && length <= 12);
  const mayBeOld = length >= 7 && length <= 11;
  if (/[0-9]{4}$/.test(number)) {
    if (isKnown) return;
    if (mayBeOld) {
      throw new RangeError(
        `${number} may be a retread's number or one from before 2000; give only its three or four date digits.`,
      );
    }
  } else if (mayBeOld) {
    return;
  } else if (isKnown) {
    throw new RangeError(
      `${number} ends with three digits only; a number of ${length} symbols must end with four, week and year.`,
    );
  }
  throw new RangeError(
    `${number} has ${length} symbols; an identification number has 13 since 2015, 8 to 12 before, 7 to 11 up to 2000, or give only the three or four date digits.`,
  );
}

function readDateCode(text, seenOn) {
  const number = text.replace(/[\s\u2010-\u2015-]+/g, "").toUpperCase().replace(/^DOT/, "");
  if (/^[0-9]{3}$/.test(number)) return threeDigits(number, seenOn);
  if (/^[0-9]{4}$/.test(number)) return fourDigits(number, seenOn);
  refuseSymbols(number);
  refuseEnd(number);
  refuseLength(number);
  return /[0-9]{4}$/.test(number) ? fourDigits(number, seenOn) : threeDigits(number, seenOn);
}

// How old something made on one day is on another, in the words of the pages.
function ageInWords(madeOn, day) {
  const years = Math.max((utc(day) - utc(madeOn)) / DAY_MS, 0) / 365.2425;
  const months = Math.floor(years * 12);
  if (months < 1) return "under a month old";
  if (months < 24) return `${months} month${months > 1 ? "s" : ""} old`;
  return `${years.toFixed(1)} years old`;
}

function weekInWords(madeOn) {
  const day = new Date(utc(madeOn));
  return day.toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });
}
