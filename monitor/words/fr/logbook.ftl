# Les mots du journal et de tout ce qu'on y écrit.


## part

part-logbook = Journal

## window

window-span = { $low } au { $high }
window-from = dès le { $low }
window-never = aucun jour en vue
window-days =
    { $count ->
        [one] { $shown } jour
       *[other] { $shown } jours
    }

## amount

amount-litres =
    { $count ->
        [one] { $shown } litre
       *[other] { $shown } litres
    }
amount-grams = { $count } g
amount-kilograms = { $count } kg

## ahead

ahead-low = Au moins
ahead-likely = Probable
ahead-high = Au plus

## tap

tap-water = Eau
tap-weigh = Poids
tap-stir = Remué
tap-test = Test d’humidité
tap-empty = Vidé
tap-look = Ouvrir
tap-saw = Vu : { $event }
tap-else = Autre chose

## kind_of

kind_of-water = Eau
kind_of-weigh = Poids
kind_of-stir = Remué
kind_of-feed = Nourriture
kind_of-test = Test d’humidité
kind_of-cover = Couvercle
kind_of-fan = Ventilateur
kind_of-larvae = Larves mises
kind_of-take = Retiré
kind_of-finish = Laisser sécher exprès
kind_of-empty = Vidé
kind_of-in_use = En service
kind_of-aside = Mis de côté
kind_of-fill = Rempli
kind_of-saw = Quelque chose de vu
kind_of-flies = Mouches comptées
kind_of-eggs = Œufs récoltés
kind_of-count = Animaux comptés
kind_of-move = Déplacé
kind_of-planned_move = Prévoir un déplacement
kind_of-split = Partagé
kind_of-merge = Y mettre un autre lot
kind_of-thin = Éclairci
kind_of-purpose = À quoi il sert
kind_of-end = Terminé
kind_of-collect = Œufs récoltés
kind_of-dead = Mouches mortes balayées
kind_of-note = Note
kind_of-start = Nouveau lot
kind_of-withdrawn = Retiré du compte
kind_of-probe = Sonde étalonnée

## explained

explained-water = Ce qui a été versé ; les litres qui le ramèneraient à la cible sont déjà inscrits.
explained-weigh = Une pesée rend tout ce qui concerne ce bac bien plus sûr. Sans la caisse.
explained-test = Une poignée avant et après le four est exacte ; pressée à la main, elle ne donne qu’une idée.
explained-feed = Du son sec contre l’excès d’eau est aussi de la nourriture.
explained-larvae = Elles remplacent celles que le bac connaissait.
explained-finish = À partir de là, il ne donne plus d’alarme de sécheresse.
explained-empty = Rien n’est calculé pour lui avant le prochain remplissage.
explained-fill = La taille est demandée une fois par bac ; les remplissages suivants la reprennent.
explained-saw = Cela affine cette prévision et celles des lots suivants.
explained-flies = Mouches sorties depuis le dernier comptage.
explained-planned_move = Les prévisions en tiennent compte à partir de là.
explained-split = Une part qui devient un lot à elle, par exemple gardée pour la reproduction.
explained-start = Des œufs pondus, des larves écloses ou achetées, des prépupes ou des pupes.
explained-collect = Les peser sans les bandes. Mis à éclore dans un bac, ils y commencent un lot, ou rejoignent celui du jour.
explained-dead = Un nombre, ou un poids.
explained-note = Tout ce qui vaut d’être su plus tard ; rien n’en est calculé.
explained-take = Les larves avec leur usage ; les prénymphes en poids ou en nombre ; le résidu avec son humidité.

## field

field-litres = Combien (litres)
field-kg = Combien (kg)
field-moisture = Humidité (%)
field-surface_m2 = Taille intérieure (par exemple 60 x 40 cm)
field-depth_m = Profondeur remplie (par exemple 8 cm)
field-larvae = Nombre de larves
field-age_days = Leur âge (jours depuis l’éclosion)
field-rough = Pressé à la main, donc approximatif
field-spread = étalé plus mince aussi
field-cover = Ce qui le couvre
field-on = Le ventilateur est
field-switch_on = en marche
field-switch_off = arrêté
field-what = Ce qui a été retiré
field-event = Ce qui a été vu
field-sure_days = Certitude du jour (± jours ; vide : un demi-jour)
field-flies = Nombre de mouches
field-grams = Poids (g)
field-animals = Nombre d’animaux
field-stage = Comme quoi
field-place = Lieu
field-purpose = Destiné à
field-cage = Cage où vont ses mouches
field-into = Nom du nouveau lot
field-percent = Part (%)
field-other = L’autre lot
field-how = Comment il s’est terminé
field-cohort = De quel lot (vide : un nouveau commence)
field-stays = Quel lot y reste
field-name = Nom du lot
field-at = Quand
field-note = Note
field-reason = Pourquoi
field-use = À quel usage
field-egg_use = À quel usage
field-tray = Dans quel bac ils éclosent
field-strips = Nombre de bandes
field-clutches = Nombre de pontes
field-mean_mg = Poids moyen d’une, échantillon compté (mg)
field-feed = Quel aliment
field-residue_kg = Résidu (kg)
field-residue_moisture = Humidité du résidu (%)
field-young_grams = Ou jeunes larves pesées (g)
field-hatched = Éclos d’un échantillon (%)
field-female_percent = Femelles d’un échantillon (%)
field-taken_animals = Ou leur nombre (prénymphes)
field-harvest_grams = Larves récoltées (g)

## cover

cover-open = rien
cover-net = un filet
cover-lid = un couvercle

## taken

taken-larvae = larves
taken-residue = résidu
taken-prepupae = prénymphes

## purpose

purpose-breeding = pour la reproduction
purpose-feed = pour l’alimentation

## use

use-feed = pour l’alimentation
use-sold = vendu
use-breeding = gardé pour la reproduction
use-hatch = mis à éclore

## ending

ending-emerged = toutes les mouches sorties
ending-harvested = récolté
ending-sold = vendu
ending-lost = perdu
ending-merged = mis dans un autre

## write

write-heading = { $what } : { $about }
write-do = Noter
write-leave_it = Laisser
write-choose = choisir
write-leave = non précisé
write-anything = Noter quelque chose
write-refused = Pas noté
write-written = Noté, entrée { $number }, { $about } : { $said }.
write-when = Quand : { $when }.
write-withdrawn = Noté, entrée { $number }, { $about } : l’entrée { $old } ne compte plus ; elle reste dans le journal.
write-missing = { $field } : il le faut.
write-wrong_litres = { $field } : « { $text } » n’est pas une quantité. Permis : 1,5, 1,5 l ou 300 ml, plus que 0.
write-wrong_kilograms = { $field } : « { $text } » n’est pas un poids. Permis : 2,4, 2,4 kg ou 800 g, plus que 0.
write-wrong_share = { $field } : « { $text } » n’est pas une humidité. Permis : entre 0 et 100 %, par exemple 65 %.
write-wrong_size = { $field } : « { $text } » n’est pas une taille. Permis : 60 x 40 cm, 0,24 m2, ou 40 cm round (rond).
write-wrong_length = { $field } : « { $text } » n’est pas une profondeur. Permis : jusqu’à 2 m, par exemple 8 cm.
write-wrong_whole = { $field } : « { $text } » n’est pas un nombre entier. Permis : par exemple 2500.
write-wrong_grams = { $field } : « { $text } » n’est pas un poids. Permis : 12, 12,5 g ou 1,5 kg, plus que 0.
write-wrong_days = { $field } : « { $text } » n’est pas un nombre. Permis : par exemple 5 ou 2,5.
write-wrong_percent = { $field } : « { $text } » n’est pas un nombre. Permis : par exemple 5 ou 2,5.
write-wrong_choice = { $field } : « { $text } » n’est pas parmi les choix.
write-wrong_switch = { $field } : « { $text } » n’est pas parmi les choix.
write-wrong_time = Quand : « { $text } » n’est pas une heure. Permis : par exemple 14:30, hier 18:00, 8 oct. 18:00 ou 2026-11-25 14:30.
write-wrong_milligrams = { $field } : « { $text } » n’est pas un poids. Permis : par exemple 180 ou 180 mg, plus que 0.
write-sold_and_tray = Ce qui est vendu n’éclôt dans aucun bac ici : laisser le bac de côté, ou noter à part ce qui est vendu et ce qui est mis à éclore.
write-caution_fan = Garder ventilateur, câble et fiche au sec et loin du sol mouillé. Un électricien agréé décide du câblage.

## ask

ask-write_it = Est-ce juste malgré tout ? L’écrire [o/N]
ask-heading = Est-ce juste ?
ask-explained = Rien n’est encore écrit. Ceci est peu probable :
ask-yes = Oui, l’écrire
ask-change = Modifier

## said

said-moment = { $weekday } { $day } { $month }, { $at }, { $away }
said-moment_year = { $weekday } { $day } { $month } { $year }, { $at }, { $away }
said-now = maintenant
said-ago = il y a { $length }
said-ahead = dans { $length }

## told

told-water = { $kg } d’eau
told-weigh = pesé { $kg }
told-stir = remué
told-stir_spread = remué et étalé plus mince
told-feed = { $kg } de nourriture à { $moisture }
told-test = humidité mesurée : { $moisture }
told-test_rough = humidité à la main : { $moisture }
told-cover = couvert avec { $cover }
told-cover_open = ouvert
told-fan = ventilateur arrêté
told-fan_on = ventilateur en marche
told-larvae = { $larvae } larves mises
told-take = { $kg } retirés : { $what }
told-take_counted = { $animals } retirés : { $what }
told-finish = séché exprès à partir de là
told-empty = vidé
told-place_empty = pas d’animaux dedans
told-place_in_use = il y a des animaux
told-place_aside = mis de côté jusqu’à { $until }
told-place_collect = { $grams } d’œufs récoltés
told-place_dead = mouches mortes balayées
told-place_note = note
told-board_in_use = de nouveau en service
told-board_aside = mise de côté jusqu’à { $until }
told-board_note = note
told-fill = rempli de { $kg } à { $moisture }
told-saw = vu : { $event }
told-flies = { $flies } mouches sorties
told-eggs = œufs récoltés, { $grams }
told-count = { $animals } comptés : { $stage }
told-move = déplacé : { $place }
told-planned_move = déplacement prévu : { $place }
told-split = partagé, retiré comme { $into }
told-merge = { $other } mis dedans
told-thin = éclairci
told-purpose = dit { $purpose }
told-end = terminé : { $how }
told-note = note
told-start = commencé ({ $stage }) : { $place }
told-withdrawn = entrée { $number } retirée du compte
told-probe = sonde d’humidité étalonnée
told-with_animals = { $animals } animaux
told-with_grams = { $grams }
told-with_age_days = âge { $age_days }
told-with_purpose = { $purpose }
told-with_cage = mouches vers { $cage }
told-with_percent = { $percent } %
told-with_larvae = { $larvae } larves
told-with_cohort = de { $cohort }
told-with_cohort_new = comme nouveau lot { $cohort }
told-with_ended = { $ended } terminé : { $how }
told-with_stays = { $stays } reste
told-with_back_to_kg = ramené à { $back_to_kg }
told-with_sure_days = ± { $sure_days }
told-with_strips = sur { $strips } bandes
told-with_clutches = { $clutches } pontes
told-with_use = { $use }
told-with_tray = dans { $tray }
told-with_mean_mg = { $mean_mg } chacune
told-with_residue_kg = { $residue_kg } de résidu
told-with_residue_moisture = à { $residue_moisture }
told-with_moisture = à { $moisture }
told-with_hatched = { $percent } % éclos
told-with_young_grams = { $young_grams } de jeunes larves
told-with_female_percent = { $female_percent } % de femelles
told-with_feed = { $feed }

## logbook

logbook-about = Sur
logbook-everything = tout
logbook-kind = Quoi
logbook-every_kind = toutes sortes
logbook-days = Depuis
logbook-show = Montrer
logbook-count =
    { $count ->
        [one] { $count } entrée
       *[other] { $count } entrées
    }
logbook-undone =
    { $count ->
        [one] { $run } repris : { $count } entrée ne compte plus ; elle reste dans le journal.
       *[other] { $run } repris : { $count } entrées ne comptent plus ; elles restent dans le journal.
    }
logbook-import_line =
    { $count ->
        [one] { $run } : { $count } entrée d’un carnet
       *[other] { $run } : { $count } entrées d’un carnet
    }
logbook-import_undo = Tout annuler
logbook-import_undone = Repris ; cela ne compte plus.
logbook-nothing = Rien encore.
logbook-refused = L’entrée { $number } ({ $about }) ne compte pas : { $reason }
logbook-by = { $who }, entrée { $number }
logbook-by_whom = par { $who }
logbook-entered = noté { $at }
logbook-entry = Entrée { $number }
logbook-not_counting = Celles-ci ne comptent pas, car cela ne peut être
logbook-correct = corriger
logbook-corrected = corrigée par l’entrée { $number }
logbook-withdrawn = retirée du compte par l’entrée { $number }
logbook-instead = à la place de l’entrée { $number }
logbook-all_of_it = Tout ce qui a été écrit à son sujet
logbook-older = plus tôt
logbook-newer = plus tard
logbook-correct_heading = Corriger l’entrée { $number }, { $about }
logbook-correct_explained = La première entrée reste dans le journal ; la nouvelle compte à sa place.
logbook-correct_do = Noter la correction
logbook-withdraw_heading = Cela n’a jamais été
logbook-withdraw_explained = L’entrée ne compte plus. Elle reste dans le journal, avec le nom de qui l’a dit.
logbook-withdraw = La retirer du compte
logbook-nothing_new = Rien ne diffère de ce qui est écrit ; changer ce qui est faux, ou la retirer du compte.

## list

list-none_lives = Aucun lot ne vit maintenant ; --all montre ceux qui sont terminés
list-lives = { $stage } : { $place }
list-stage_unknown = stade inconnu
list-since = depuis { $day }
list-counted = { $count } ({ $stage })
list-about = environ { $count } ({ $stage })

## show

show-logbook = Journal
show-earlier =
    { $count ->
        [one] et { $count } entrée plus ancienne : --all
       *[other] et { $count } entrées plus anciennes : --all
    }
show-drawn = { $file } est écrit
show-bin_emptied = { $bin } a été vidé et n’est pas rempli depuis. Pour le remplir : rearing-monitor bin fill { $place }
show-bin_unknown = { $bin } : rien dans le journal. Pour noter un remplissage : rearing-monitor bin fill { $place }

## notebook

notebook-line = { $file }, ligne { $line } : { $reason }
notebook-more = et { $count } de plus
notebook-known =
    { $count ->
        [one] { $count } ligne était déjà dans le journal
       *[other] { $count } lignes étaient déjà dans le journal
    }
notebook-asked =
    { $count ->
        [one] { $count } ligne est peu probable, donc rien n’est écrit ; si elle est juste, le dire : --sure
       *[other] { $count } lignes sont peu probables, donc rien n’est écrit ; si elles sont justes, le dire : --sure
    }
notebook-undo = Pour tout reprendre : { $command }
notebook-refused =
    { $count ->
        [one] { $count } ligne ne peut pas être reprise, donc rien n’est écrit
       *[other] { $count } lignes ne peuvent pas être reprises, donc rien n’est écrit
    }
notebook-written =
    { $count ->
        [one] { $count } entrée écrite
       *[other] { $count } entrées écrites
    }
notebook-tried =
    { $count ->
        [one] { $count } entrée serait écrite
       *[other] { $count } entrées seraient écrites
    }

## leave: a place that an entry leaves without animals

leave-ask = { $place } est alors sans animaux. Est-il vide, sans plus aucune alarme ? o/N
leave-stays = { $place } est sans animaux d’après le journal et reste surveillé. Si c’est vide : { $command }

## sheet: the paper of a week

sheet-when = quand
sheet-where = où
sheet-what = quoi
sheet-amount = quantité
sheet-use = usage
sheet-to = vers le bac
sheet-note = note
sheet-by = par
sheet-eggs = œufs
sheet-hatch = éclosion
sheet-feed = aliment
sheet-harvest = récolte
sheet-prepupae = prénymphes
sheet-residue = résidu
sheet-dead = mouches mortes
sheet-sold = vendu
sheet-breeding = reproduction
sheet-title = { $farm } : semaine du { $first } au { $last }
sheet-explain_where = { $where } : { $places } ; ou le nom d’un lot
sheet-explain_what = { $what } : { $words }. Écrire les quantités avec leur unité : 12.4 g, 4.2 kg, 80 % ; l’aliment avec son humidité : 2 kg à 70 %.
sheet-explain_use = { $use } : { $uses }. { $to } : où les œufs sont mis à éclore.
sheet-explain_import = Tapé dans un tableur sous ces titres et enregistré en CSV : { $command }
sheet-written = { $file } écrit : la semaine du { $first }. L’imprimer, ou la remplir.
