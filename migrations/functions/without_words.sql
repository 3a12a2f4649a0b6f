-- A text without some words, each whole: neither within another word nor within a code, so that who is called Rose is not
-- taken out of Rosemary, Hedge-Rose or FO-ROSE/12. All in one go, the longest first, so that what stands in their place is
-- not looked at again. At most as long as the text may be.
create or replace function without_words(body text, words text[], length_max int default 1000000000) returns text
  language sql immutable set search_path = public as $$
  select left(coalesce(regexp_replace(body, pattern, '(erased)', 'gi'), body), length_max)
  from (
    select string_agg(
      case when word ~ '^[[:alnum:]_]'
        then '(?<![[:alnum:]_])(?<![[:alnum:]_]-)(?<![0-9][[:alnum:]_-]*/)' else '' end
      || regexp_replace(word, '([]!-/:-@^`{-~[\\])', '\\\1', 'g')
      || case when word ~ '[[:alnum:]_]$'
        then '(?![[:alnum:]_])(?!-[[:alnum:]_])(?!/[[:alnum:]_-]*[0-9])' else '' end,
      '|' order by length(word) desc, word) as pattern
    from (select distinct unnest(words) as word) w where word <> '') p
$$;
