"""`{{ text|said }}`: what comes from below the pages, in the language of the page."""

from django import template

from server.web.pages import number_text
from server.web.saying import after_its_word, group_name, localised, said

register = template.Library()
register.filter("said", said)
register.filter("after_its_word", after_its_word)
register.filter("group_name", group_name)
register.filter("number", number_text)
register.filter("localised", lambda text: localised(str(text)))
