# Kazi za siku, na kilichofanyika. Neno ndani ya {mabano} huwekwa na programu. Orodha ya maneno iko mwanzo wa page.ftl.


## today

today-heading = Leo, kwa mpangilio huu
today-title = Leo
today-all_done = Yote yamefanyika.
today-nothing = Hakuna kazi leo.
today-cool = Poza
today-water = Ongeza maji
today-dry = Kuna unyevu mno
today-answer = Je, ni tupu?
today-harvest = Vuna
today-copy = Angalia nakala
today-board = Angalia kifaa
today-window = { $place }, inatarajiwa { $window }
today-board_look = Inahitaji kuangaliwa.
today-done = { $what } – { $who }, { $at }
today-was_done = imefanyika: { $what }
today-done_heading = Kilichofanyika leo
today-not_done = Hakikufanyika
today-day = { $day }: kilichofanyika
today-before = siku iliyotangulia
today-after = siku iliyofuata
today-earlier = Orodha ya jana
today-none_then = Hakuna kilichoandikwa siku hiyo.
today-write = Andika kitu
today-no_such = Kazi hiyo haipo kwenye orodha ya leo, kwa hiyo hakuna kilichowekwa alama. Fungua ukurasa upya.

## the words on the button of an entry that does a task

task_do-water = Nimeongeza maji
task_do-stir = Nimekoroga
task_do-spread = Nimetandaza
task_do-feed = Pumba kavu
task_do-bran = Nimechanganya pumba
task_do-harvest = Nimevuna
task_do-saw = Nimeona
task_do-tick = Nimeangalia
task_do-litres = lita
task_do-kilograms = kg
task_do-grams = gramu za mabuu
task_do-first_flies = Nzi wa kwanza
task_do-flies = Nzi waliohesabiwa
task_do-eggs = Mayai
task_do-move = Kuhamishwa
task_do-start = Kundi jipya
task_do-correct = Sahihisha
task_do-other = Kundi lingine:
